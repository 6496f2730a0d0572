/* camera_memory.c - What was changed on a camera, kept in a file while it is read. */
#include "source/camera_memory.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_BYTES = 512, TEXT_BYTES = 1024, TRIES = 4 };

/* The first line, so that a file of another version is not misread. */
static const char head[] = "lampread camera 1\n";

struct lamp_memory {
    int file;
    char path[PATH_BYTES];
};

/* Only a folder that is this user's alone is trusted: in one that others may write to, a file could
 * be theirs. */
static bool is_ours(const char *folder)
{
    struct stat what;
    return lstat(folder, &what) == 0 && S_ISDIR(what.st_mode) && what.st_uid == geteuid() &&
           (what.st_mode & (S_IWGRP | S_IWOTH)) == 0;
}

static bool find_folder(char out[PATH_BYTES])
{
    const char *runtime = getenv("XDG_RUNTIME_DIR");
    int length = runtime != NULL && runtime[0] == '/'
                     ? snprintf(out, PATH_BYTES, "%s/lampread", runtime)
                     : snprintf(out, PATH_BYTES, "/tmp/lampread-%lu", (unsigned long)geteuid());
    if (length < 0 || length >= PATH_BYTES - 128) {
        return false;
    }
    return (mkdir(out, S_IRWXU) == 0 || errno == EEXIST) && is_ours(out);
}

/* A file name of what the camera says of itself: where it is plugged in, and its name. */
static void name_file(char path[PATH_BYTES], const struct lamp_video_identity *camera)
{
    size_t at = strlen(path);
    (void)snprintf(path + at, PATH_BYTES - at, "/%s-%s", camera->bus, camera->name);
    for (char *c = path + at + 1; *c != '\0'; c++) {
        bool is_plain = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') ||
                        (*c >= '0' && *c <= '9') || *c == '-';
        *c = (char)(is_plain ? *c : '_');
    }
}

/* Whether the file is still the one of that name: the run before may have removed it meanwhile. */
static bool is_current(int file, const char *path)
{
    struct stat opened;
    struct stat named;
    return fstat(file, &opened) == 0 && lstat(path, &named) == 0 && S_ISREG(opened.st_mode) &&
           opened.st_uid == geteuid() && opened.st_ino == named.st_ino &&
           opened.st_dev == named.st_dev;
}

static enum lamp_memory_answer open_file(const char *path, int *out)
{
    for (int i = 0; i < TRIES; i++) {
        int file = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, S_IRUSR | S_IWUSR);
        if (file < 0) {
            return LAMP_MEMORY_NONE;
        }
        int problem = flock(file, LOCK_EX | LOCK_NB) == 0 ? 0 : errno;
        if (problem == 0 && is_current(file, path)) {
            *out = file;
            return LAMP_MEMORY_OPEN;
        }
        (void)close(file);
        if (problem == EWOULDBLOCK) {
            return LAMP_MEMORY_BUSY;
        }
    }
    return LAMP_MEMORY_NONE;
}

/* A whole number and the byte after it. */
static bool read_number(const char **text, char after, long *out)
{
    char *end = NULL;
    errno = 0;
    *out = strtol(*text, &end, 10);
    if (end == *text || *end != after || errno != 0 || *out < INT32_MIN || *out > INT32_MAX) {
        return false;
    }
    *text = end + 1;
    return true;
}

/* One line: control, value before, value set. A file that is not exactly so says nothing. */
static bool read_line(const char **text, struct lamp_changes *out)
{
    long control = 0;
    long before = 0;
    long now = 0;
    if (!read_number(text, ' ', &control) || !read_number(text, ' ', &before) ||
        !read_number(text, '\n', &now) || control < 0 || control >= LAMP_CONTROL_COUNT ||
        out->count == LAMP_CONTROL_COUNT) {
        return false;
    }
    out->at[out->count++] =
        (struct lamp_change){(enum lamp_control)control, (int32_t)before, (int32_t)now};
    return true;
}

static void read_left(int file, struct lamp_changes *out)
{
    char text[TEXT_BYTES + 1];
    ssize_t size = pread(file, text, TEXT_BYTES, 0);
    out->count = 0;
    if (size <= 0) {
        return;
    }
    text[size] = '\0';
    const char *at = text;
    if (strncmp(at, head, sizeof head - 1) != 0) {
        return;
    }
    at += sizeof head - 1;
    while (*at != '\0' && read_line(&at, out)) {
    }
    if (*at != '\0') {
        out->count = 0;
    }
}

enum lamp_memory_answer lamp_memory_open(const struct lamp_video_identity *camera,
                                         struct lamp_changes *left, struct lamp_memory **out)
{
    struct lamp_memory *memory = calloc(1, sizeof *memory);
    left->count = 0;
    if (memory == NULL || !find_folder(memory->path)) {
        free(memory);
        return LAMP_MEMORY_NONE;
    }
    name_file(memory->path, camera);
    enum lamp_memory_answer answer = open_file(memory->path, &memory->file);
    if (answer != LAMP_MEMORY_OPEN) {
        free(memory);
        return answer;
    }
    read_left(memory->file, left);
    *out = memory;
    return LAMP_MEMORY_OPEN;
}

bool lamp_memory_keep(struct lamp_memory *memory, const struct lamp_changes *changes)
{
    char text[TEXT_BYTES];
    size_t length = (size_t)snprintf(text, sizeof text, "%s", head);
    for (size_t i = 0; i < changes->count; i++) {
        const struct lamp_change *change = &changes->at[i];
        length += (size_t)snprintf(text + length, sizeof text - length, "%d %d %d\n",
                                   (int)change->control, (int)change->before, (int)change->now);
    }
    return ftruncate(memory->file, 0) == 0 &&
           pwrite(memory->file, text, length, 0) == (ssize_t)length;
}

void lamp_memory_clear(struct lamp_memory *memory)
{
    (void)unlink(memory->path); /* while it is still locked, so that nobody else has it */
}

void lamp_memory_free(struct lamp_memory *memory)
{
    if (memory != NULL) {
        (void)close(memory->file);
        free(memory);
    }
}
