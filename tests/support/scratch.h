/* scratch.h - A folder for the files of one test program, gone when it ends. */
#ifndef LAMP_TESTS_SCRATCH_H
#define LAMP_TESTS_SCRATCH_H

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char scratch_folder[64];

/** Make the folder; false if it cannot be made. */
static inline bool scratch_begin(void)
{
    const char *where = getenv("TMPDIR");
    (void)snprintf(scratch_folder, sizeof scratch_folder, "%.40s/lampread-XXXXXX",
                   where == NULL ? "/tmp" : where);
    return mkdtemp(scratch_folder) != NULL;
}

/** The path of a file in the folder, valid until the next but seven calls. */
static inline const char *scratch_path(const char *name)
{
    static char paths[8][256];
    static unsigned turn;
    char *path = paths[turn++ % 8];
    (void)snprintf(path, sizeof paths[0], "%s/%s", scratch_folder, name);
    return path;
}

/** Write a file of the folder. @return its path. */
static inline const char *scratch_write(const char *name, const void *bytes, size_t size)
{
    const char *path = scratch_path(name);
    FILE *file = fopen(path, "wb");
    if (file == NULL || fwrite(bytes, 1, size, file) != size || fclose(file) != 0) {
        perror(path);
        exit(EXIT_FAILURE);
    }
    return path;
}

/** Remove the folder and all in it. */
static inline void scratch_end(void)
{
    char command[128];
    (void)snprintf(command, sizeof command, "rm -rf '%s'", scratch_folder);
    if (system(command) != 0) {
        perror(scratch_folder);
    }
}

#endif
