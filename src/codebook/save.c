/* save.c - A book's file: read whole, and replaced in one step. */
/* NOLINTNEXTLINE(bugprone-reserved-identifier,readability-identifier-naming): it names realpath. */
#define _XOPEN_SOURCE 700
#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/fail.h"
#include "base/text.h"
#include "lampread/teach.h"

/* A file to be replaced, and the folder that holds it. */
struct target {
    char *path;   /* Links followed; freed by the caller. */
    char *folder; /* Freed by the caller. */
    int lock;     /* The folder, locked while a file in it is replaced; -1 where it cannot be. */
    bool is_there;
    struct stat status;
};

/* Why a file cannot be read, in the same words in every locale. */
static const char *reason_of(int number)
{
    switch (number) {
    case ENOENT: return "there is no such file";
    case ENOTDIR: return "there is no such folder";
    case EACCES: return "reading it is not permitted";
    case EISDIR: return "it is a folder";
    default: return "it cannot be read";
    }
}

enum lamp_err lamp_book_load(const char *path, char **text, size_t *size, struct lamp_error *error)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        return lamp_fail(error, LAMP_BAD_BOOK, path, "%s, expected a codebook", reason_of(errno));
    }
    char *all = malloc((size_t)LAMP_BOOK_BYTES_MAX + 1);
    if (all == NULL) {
        (void)fclose(file);
        return lamp_fail_memory(error);
    }
    errno = 0;
    size_t taken = fread(all, 1, (size_t)LAMP_BOOK_BYTES_MAX + 1, file);
    bool failed = ferror(file) != 0;
    int number = errno;
    (void)fclose(file);
    if (failed) {
        free(all);
        return lamp_fail(error, LAMP_BAD_BOOK, path, "%s, expected a codebook", reason_of(number));
    }
    *text = all;
    *size = taken;
    return LAMP_OK;
}

static enum lamp_err refuse(const char *path, const char *what, struct lamp_error *error)
{
    switch (errno) {
    case EACCES:
    case EPERM:
    case EROFS:
        return lamp_fail(error, LAMP_CANNOT_WRITE, path,
                         "%s: writing is not permitted here; a copy in a folder of yours can be "
                         "extended",
                         what);
    case ENOSPC: return lamp_fail(error, LAMP_CANNOT_WRITE, path, "%s: the disk is full", what);
    case ENOENT:
    case ENOTDIR: return lamp_fail(error, LAMP_CANNOT_WRITE, path, "%s: no such folder", what);
    default: return lamp_fail(error, LAMP_CANNOT_WRITE, path, "%s", what);
    }
}

static void target_fini(struct target *target)
{
    if (target->lock >= 0) {
        (void)close(target->lock);
    }
    free(target->path);
    free(target->folder);
}

/* Cuts the last name off. */
static const char *folder_of(char *path)
{
    char *slash = strrchr(path, '/');
    if (slash == NULL) {
        return ".";
    }
    *slash = '\0';
    return slash == path ? "/" : path;
}

/* Where a link points to; the path itself where nothing is there yet. To be given to target_fini
 * whatever comes of it. */
static enum lamp_err target_init(struct target *target, const char *path, struct lamp_error *error)
{
    *target = (struct target){.path = realpath(path, NULL), .lock = -1};
    if (target->path == NULL) {
        target->path = strdup(path);
    }
    target->folder = target->path != NULL ? strdup(target->path) : NULL;
    if (target->folder == NULL) {
        return lamp_fail_memory(error);
    }
    struct stat status = {0};
    const char *folder = folder_of(target->folder);
    target->is_there = lstat(target->path, &status) == 0;
    target->status = status;
    target->lock = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (target->lock < 0) {
        return refuse(path, "cannot be written", error);
    }
    (void)flock(target->lock, LOCK_EX); /* Where that is not possible, as before. */
    return LAMP_OK;
}

static bool write_all(int file, const char *text, size_t size)
{
    while (size > 0) {
        ssize_t wrote = write(file, text, size);
        if (wrote < 0 && errno != EINTR) {
            return false;
        }
        text += wrote > 0 ? wrote : 0;
        size -= wrote > 0 ? (size_t)wrote : 0;
    }
    return true;
}

/* A file under another name beside `path`, made anew: with the permissions that any new file of the
 * user gets, or those of the file it will replace, and its group where that is possible. */
static int open_part(const struct target *target, const char *part)
{
    (void)unlink(part);
    int file = open(part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (file >= 0 && target->is_there) {
        (void)!fchown(file, (uid_t)-1, target->status.st_gid);
        if (fchmod(file, target->status.st_mode & 07777) != 0) {
            (void)close(file);
            return -1;
        }
    }
    return file;
}

/* Write beside `path`, whole on disk, then give it the name. */
static enum lamp_err put(const struct target *target, const char *path, const char *text,
                         size_t size, struct lamp_error *error)
{
    struct lamp_text part = {0};
    lamp_text_add(&part, "%s.%ld.part", path, (long)getpid());
    if (part.failed) {
        lamp_text_fini(&part);
        return lamp_fail_memory(error);
    }
    int file = open_part(target, part.at);
    bool done = file >= 0 && write_all(file, text, size) && fsync(file) == 0;
    done = file >= 0 && close(file) == 0 && done && rename(part.at, path) == 0;
    enum lamp_err err = done ? LAMP_OK : refuse(path, "cannot be written", error);
    if (!done) {
        (void)unlink(part.at);
    }
    lamp_text_fini(&part);
    return err;
}

enum lamp_err lamp_book_create(const char *path, const char *text, size_t size, bool replaces,
                               struct lamp_error *error)
{
    struct target target;
    enum lamp_err err = target_init(&target, path, error);
    if (err != LAMP_OK) {
        target_fini(&target);
        return err;
    }
    assert(target.path != NULL);
    if (target.is_there && !S_ISREG(target.status.st_mode)) {
        err = lamp_fail(error, LAMP_CANNOT_WRITE, path, "this is no file; expected one for a book");
    } else if (target.is_there && !replaces) {
        err = lamp_fail(error, LAMP_CANNOT_WRITE, path,
                        "the file is there already; --force writes over it");
    } else {
        err = put(&target, target.path, text, size, error);
        (void)fsync(target.lock);
    }
    target_fini(&target);
    return err;
}

/* Keep the old text as PATH~. */
static enum lamp_err keep(const struct target *target, const char *was, size_t was_size,
                          struct lamp_error *error)
{
    struct lamp_text old = {0};
    lamp_text_add(&old, "%s~", target->path);
    enum lamp_err err =
        old.failed ? lamp_fail_memory(error) : put(target, old.at, was, was_size, error);
    lamp_text_fini(&old);
    return err;
}

/* Whether the file still holds what was read from it. */
static bool is_as_it_was(const struct target *target, const char *was, size_t was_size)
{
    char *now = NULL;
    size_t now_size = 0;
    bool is_same = lamp_book_load(target->path, &now, &now_size, NULL) == LAMP_OK && now != NULL &&
                   now_size == was_size && memcmp(now, was, was_size) == 0;
    free(now);
    return is_same;
}

/* NOLINTNEXTLINE(readability-function-size): the signature is the public one. */
enum lamp_err lamp_book_replace(const char *path, const char *was, size_t was_size,
                                const char *text, size_t size, struct lamp_error *error)
{
    struct target target;
    enum lamp_err err = target_init(&target, path, error);
    if (err != LAMP_OK) {
        target_fini(&target);
        return err;
    }
    assert(target.path != NULL);
    if (target.is_there && !S_ISREG(target.status.st_mode)) {
        err = lamp_fail(error, LAMP_CANNOT_WRITE, path, "this is no file that can be replaced");
    } else if (target.is_there && access(target.path, W_OK) != 0) {
        err = refuse(path, "cannot be extended", error);
    } else if (!is_as_it_was(&target, was, was_size)) {
        err = lamp_fail(error, LAMP_CANNOT_WRITE, path,
                        "something else changed the file meanwhile; nothing was written");
    } else {
        err = keep(&target, was, was_size, error);
        err = err == LAMP_OK ? put(&target, target.path, text, size, error) : err;
        (void)fsync(target.lock);
    }
    target_fini(&target);
    return err;
}
