/* output.c - Files that get their name only when they are whole. */
#include "render/output.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/fail.h"

static const char *container_of(const char *path, size_t length)
{
    static const char *const table[][2] = {{".mp4", "mp4"},   {".mov", "mov"}, {".mkv", "matroska"},
                                           {".webm", "webm"}, {".avi", "avi"}, {".gif", "gif"}};
    if (length > 1 && path[length - 1] == '/') {
        return "image2";
    }
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        const size_t ending = strlen(table[i][0]);
        if (length > ending && strcasecmp(path + length - ending, table[i][0]) == 0) {
            return table[i][1];
        }
    }
    return NULL;
}

/* The part's name as a pattern of numbered stills, signs of percent doubled. */
static void write_pattern(struct output *output, const char *still)
{
    for (const char *at = output->part.at; at != NULL && *at != '\0'; at++) {
        lamp_text_add(&output->target, *at == '%' ? "%%%%" : "%c", *at);
    }
    lamp_text_add(&output->target, "/frame%%06d.%s", still);
}

enum lamp_err output_init(struct output *output, const char *path, const char *still,
                          struct lamp_error *error)
{
    size_t length = strlen(path);
    const char *container = container_of(path, length);
    if (container == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, path,
                         "unknown kind of file, expected .mp4, .mov, .mkv, .webm, .avi, .gif or a "
                         "folder ending in /");
    }
    *output =
        (struct output){.container = container, .is_folder = strcmp(container, "image2") == 0};
    while (length > 1 && path[length - 1] == '/') {
        length--;
    }
    lamp_text_add(&output->final, "%.*s", (int)length, path);
    lamp_text_add(&output->part, "%.*s.part", (int)length, path);
    lamp_text_add(&output->truth, "%.*s.truth.json", (int)length, path);
    if (output->is_folder) {
        write_pattern(output, still);
    } else {
        lamp_text_add(&output->target, "%s", output->part.at != NULL ? output->part.at : "");
    }
    if (output->final.failed || output->part.failed || output->truth.failed ||
        output->target.failed) {
        output_fini(output);
        return lamp_fail_memory(error);
    }
    return LAMP_OK;
}

static enum lamp_err fail_system(const char *path, const char *what, struct lamp_error *error)
{
    return lamp_fail(error, LAMP_CANNOT_WRITE, path, "%s: %s", what, strerror(errno));
}

/* Remove the stills of a folder, then the folder. */
static void remove_folder(const char *path)
{
    DIR *folder = opendir(path);
    if (folder == NULL) {
        return;
    }
    const struct dirent *entry;
    while ((entry = readdir(folder)) != NULL) {
        if (strncmp(entry->d_name, "frame", 5) == 0) {
            (void)unlinkat(dirfd(folder), entry->d_name, 0);
        }
    }
    (void)closedir(folder);
    (void)rmdir(path);
}

/* A folder that is to be replaced must hold nothing. */
static bool is_free(const char *path)
{
    DIR *folder = opendir(path);
    if (folder == NULL) {
        return errno == ENOENT;
    }
    int count = 0;
    while (readdir(folder) != NULL) {
        count++;
    }
    (void)closedir(folder);
    return count <= 2;
}

enum lamp_err output_begin(const struct output *output, struct lamp_error *error)
{
    if (!output->is_folder) {
        return LAMP_OK;
    }
    if (!is_free(output->final.at)) {
        return lamp_fail(error, LAMP_CANNOT_WRITE, output->final.at,
                         "is there already, expected a new or empty folder");
    }
    remove_folder(output->part.at);
    return mkdir(output->part.at, 0777) == 0
               ? LAMP_OK
               : fail_system(output->final.at, "cannot be made", error);
}

enum lamp_err output_finish(const struct output *output, struct lamp_error *error)
{
    return rename(output->part.at, output->final.at) == 0
               ? LAMP_OK
               : fail_system(output->final.at, "cannot be written", error);
}

static bool write_whole(const char *path, const struct lamp_text *text)
{
    FILE *file = fopen(path, "wb");
    if (file == NULL) {
        return false;
    }
    const bool is_written = fwrite(text->at, 1, text->length, file) == text->length;
    return fclose(file) == 0 && is_written;
}

enum lamp_err output_put(const char *path, const struct lamp_text *text, struct lamp_error *error)
{
    struct lamp_text part = {0};
    lamp_text_add(&part, "%s.part", path);
    if (text->failed || part.failed) {
        lamp_text_fini(&part);
        return lamp_fail_memory(error);
    }
    enum lamp_err err = LAMP_OK;
    if (!write_whole(part.at, text) || rename(part.at, path) != 0) {
        err = fail_system(path, "cannot be written", error);
        (void)unlink(part.at);
    }
    lamp_text_fini(&part);
    return err;
}

void output_abandon(const struct output *output)
{
    if (output->is_folder) {
        remove_folder(output->part.at);
    } else {
        (void)unlink(output->part.at);
    }
}

void output_fini(struct output *output)
{
    lamp_text_fini(&output->final);
    lamp_text_fini(&output->part);
    lamp_text_fini(&output->target);
    lamp_text_fini(&output->truth);
}
