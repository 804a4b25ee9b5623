/* Takes a folder away with all that is in it. */
#ifndef DB_TESTS_KIT_FOLDER_H
#define DB_TESTS_KIT_FOLDER_H

#include <ftw.h>
#include <stdio.h>

static inline int remove_one(const char *path, const struct stat *about, int kind, struct FTW *walk)
{
    (void) about, (void) kind, (void) walk;
    return remove(path);
}

static inline void remove_tree(const char *folder)
{
    (void) nftw(folder, remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

#endif
