#include "read/load.h"

#include "base/limits.h"
#include "read/files.h"

#include <string.h>

#include "base/banned.h"

struct db_reader db_load_reader(const struct db_load *load)
{
    return (struct db_reader){ load->scratch, load->mistakes };
}

bool db_load_has(const struct db_load *load, const char *file)
{
    for (size_t i = 0; i < load->file_count; i++)
        if (strcmp(load->files[i], file) == 0)
            return true;
    return false;
}

/* Adds to a list that ends with a NULL. */
static enum db_status add_path(struct db_arena *arena, const char ***list, size_t *count, size_t *room,
                               const char *path)
{
    if (*count + 1 >= *room) {
        const size_t wanted = *room ? 2 * *room : 64;
        const char **grown = db_arena_get(arena, wanted, sizeof *grown);

        if (!grown)
            return DB_FULL;
        if (*count)
            memcpy(grown, *list, *count * sizeof *grown);
        *list = grown;
        *room = wanted;
    }
    (*list)[(*count)++] = path;
    return DB_OK;
}

enum db_status db_load_saw(struct db_load *load, const char *file)
{
    return add_path(load->arena, &load->files, &load->file_count, &load->file_room, file);
}

enum db_status db_load_ini(struct db_load *load, struct db_ini *ini, const char *path, struct db_place at)
{
    const char *const *files = NULL;
    char *text = NULL;
    size_t count = 0, length = 0;
    enum db_status status = DB_OK;

    if (db_path_is_folder(path))
        status = add_path(load->arena, &load->folders, &load->folder_count, &load->folder_room, path);
    if (status == DB_OK)
        status = db_seen_list(&load->seen, path, at, load->arena, load->mistakes, &files, &count);
    if (status != DB_OK)
        return status == DB_MISTAKEN ? DB_OK : status;
    for (size_t i = 0; i < count; i++) {
        /* The file itself is at fault where nobody has written its name. */
        const struct db_place place = at.line ? at : (struct db_place){ .file = files[i] };

        if (db_load_has(load, files[i])) {
            db_mistakes_add(load->mistakes, at, "name it once", "the file %s was read already", files[i]);
            continue;
        }
        if (load->file_count >= DB_LIMIT_INCLUDES) {
            db_mistakes_add(load->mistakes, at, "put several of them into one", "there are more than %d files",
                            DB_LIMIT_INCLUDES);
            return DB_OK;
        }
        status = db_load_saw(load, files[i]);
        if (status == DB_OK)
            status =
                db_seen_read(&load->seen, files[i], DB_LIMIT_FILE, place, ini->arena, load->mistakes, &text, &length);
        if (status == DB_OK)
            status = db_ini_read(ini, files[i], text, length);
        if (status != DB_OK && status != DB_MISTAKEN)
            return status;
    }
    return DB_OK;
}
