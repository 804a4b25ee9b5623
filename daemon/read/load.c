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

enum db_status db_load_saw(struct db_load *load, const char *file)
{
    if (load->file_count + 1 >= load->file_room) { /* the list ends with a NULL */
        const size_t room = load->file_room ? 2 * load->file_room : 64;
        const char **files = db_arena_get(load->arena, room, sizeof *files);

        if (!files)
            return DB_FULL;
        if (load->file_count)
            memcpy(files, load->files, load->file_count * sizeof *files);
        load->files = files;
        load->file_room = room;
    }
    load->files[load->file_count++] = file;
    return DB_OK;
}

enum db_status db_load_ini(struct db_load *load, struct db_ini *ini, const char *path, struct db_place at)
{
    const char *const *files = NULL;
    size_t count = 0;
    enum db_status status = db_files_list(path, at, load->arena, load->mistakes, &files, &count);

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
            status = db_ini_read_file(ini, files[i], place);
        if (status != DB_OK)
            return status;
    }
    return DB_OK;
}
