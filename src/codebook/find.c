/* find.c - Codebooks found by name in the folders where they are kept. */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/array.h"
#include "base/fail.h"
#include "base/text.h"
#include "base/utf8.h"
#include "codebook/field.h"
#include "lampread/codebook.h"
#include "lampread/teach.h"

/* Ceilings: folders searched, bytes of a path, names looked at in one folder. */
enum { FOLDERS_MAX = 16, PATH_BYTES_MAX = 4096, NAMES_MAX = 1024 };

static const char ending[] = ".yaml";

/* The folders searched, in order. */
struct folders {
    size_t count;
    char at[FOLDERS_MAX][PATH_BYTES_MAX];
};

/* Names of books in a folder, without the ending. */
struct names {
    char **at;
    size_t count;
    size_t room;
};

static bool has_folder(const struct folders *folders, const char *path)
{
    for (size_t i = 0; i < folders->count; i++) {
        if (strcmp(folders->at[i], path) == 0) {
            return true;
        }
    }
    return false;
}

/* Add the folder `rest` below the first `size` bytes of `root`, unless it is there already. */
static void add_part(struct folders *folders, const char *root, size_t size, const char *rest)
{
    if (folders->count == FOLDERS_MAX) {
        return;
    }
    char *path = folders->at[folders->count];
    int length = snprintf(path, PATH_BYTES_MAX, "%.*s%s", (int)size, root, rest);
    if (length > 0 && length < PATH_BYTES_MAX && !has_folder(folders, path)) {
        folders->count++;
    }
}

static void add_folder(struct folders *folders, const char *root, const char *rest)
{
    add_part(folders, root, strlen(root), rest);
}

/* The system's data folders, parted by colons; the installed folder has its place kept. */
static void add_system_folders(struct folders *folders)
{
    const char *at = getenv("XDG_DATA_DIRS");
    at = at == NULL || at[0] == '\0' ? "/usr/local/share:/usr/share" : at;
    while (*at != '\0') {
        size_t length = strcspn(at, ":");
        if (at[0] == '/' && length < PATH_BYTES_MAX && folders->count + 1 < FOLDERS_MAX) {
            add_part(folders, at, length, "/lampread/codebooks");
        }
        at += length + (at[length] == ':');
    }
}

/* The user's data folder is that of the XDG Base Directory Specification: relative paths in it are
 * passed over. */
static void list_folders(struct folders *folders)
{
    const char *data = getenv("XDG_DATA_HOME");
    const char *home = getenv("HOME");
    const char *books = getenv("LAMPREAD_BOOKS");
    folders->count = 0;
    add_folder(folders, ".", "");
    add_folder(folders, "codebooks", "");
    if (data != NULL && data[0] == '/') {
        add_folder(folders, data, "/lampread/codebooks");
    } else if (home != NULL && home[0] == '/') {
        add_folder(folders, home, "/.local/share/lampread/codebooks");
    }
    if (books != NULL && books[0] != '\0') {
        add_folder(folders, books, "");
    }
    add_system_folders(folders);
    add_folder(folders, LAMP_BOOKS_DIR, "");
}

static bool has_ending(const char *name)
{
    size_t length = strlen(name);
    return length >= sizeof ending && strcmp(name + length - (sizeof ending - 1), ending) == 0;
}

static void free_names(struct names *names)
{
    for (size_t i = 0; i < names->count; i++) {
        free(names->at[i]);
    }
    free(names->at);
    *names = (struct names){0};
}

/* Add the name of a book file; anything else, and whatever is beyond the ceiling, is passed over.
 */
static enum lamp_err add_name(struct names *names, const char *file)
{
    size_t length = strlen(file);
    if (!has_ending(file) || file[0] == '.' || names->count == NAMES_MAX) {
        return LAMP_OK;
    }
    void *at = names->at;
    enum lamp_err err =
        lamp_array_room(&at, &names->room, names->count, sizeof names->at[0], NAMES_MAX);
    names->at = at;
    char *copy = err == LAMP_OK ? strndup(file, length - (sizeof ending - 1)) : NULL;
    if (copy == NULL) {
        return LAMP_NO_MEMORY;
    }
    names->at[names->count++] = copy;
    return LAMP_OK;
}

static int compare_names(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Names of the books in one folder, sorted; none where it cannot be read. */
static enum lamp_err list_names(const char *folder, struct names *names)
{
    enum lamp_err err = LAMP_OK;
    DIR *open = opendir(folder);
    if (open == NULL) {
        return LAMP_OK;
    }
    for (struct dirent *entry; err == LAMP_OK && (entry = readdir(open)) != NULL;) {
        err = add_name(names, entry->d_name);
    }
    (void)closedir(open);
    if (names->count > 1) {
        qsort(names->at, names->count, sizeof names->at[0], compare_names);
    }
    return err;
}

/* Tell that no book has this name, and which name comes nearest. */
static enum lamp_err refuse_name(const struct folders *folders, const char *name,
                                 struct lamp_error *error)
{
    char nearest[LAMP_BOOK_ID_MAX + 1] = "";
    for (size_t i = 0; i < folders->count; i++) {
        struct names names = {0};
        enum lamp_err err = list_names(folders->at[i], &names);
        const char *found =
            err == LAMP_OK ? lamp_text_nearest(name, (const char *const *)names.at, names.count)
                           : NULL;
        bool is_nearer = found != NULL && strlen(found) <= LAMP_BOOK_ID_MAX &&
                         (nearest[0] == '\0' ||
                          lamp_text_distance(name, found) < lamp_text_distance(name, nearest));
        if (is_nearer) {
            (void)snprintf(nearest, sizeof nearest, "%s", found);
        }
        free_names(&names);
        if (err != LAMP_OK) {
            return lamp_fail_memory(error);
        }
    }
    if (nearest[0] != '\0') {
        return lamp_fail(error, LAMP_BAD_BOOK, "", "no book is called '%s', did you mean '%s'?",
                         name, nearest);
    }
    return lamp_fail(error, LAMP_BAD_BOOK, "",
                     "no book is called '%s', expected one in the working folder, ./codebooks, the "
                     "user's data folder, $LAMPREAD_BOOKS, $XDG_DATA_DIRS or %s",
                     name, LAMP_BOOKS_DIR);
}

static bool join(const char *folder, const char *name, char out[PATH_BYTES_MAX])
{
    bool is_here = strcmp(folder, ".") == 0;
    int length = snprintf(out, PATH_BYTES_MAX, "%s%s%s%s", is_here ? "" : folder,
                          is_here ? "" : "/", name, ending);
    return length > 0 && length < PATH_BYTES_MAX;
}

static enum lamp_err find_by_id(const struct folders *folders, const char *name,
                                struct lamp_book **out, struct lamp_error *error)
{
    for (size_t i = 0; i < folders->count; i++) {
        char path[PATH_BYTES_MAX];
        if (join(folders->at[i], name, path) && access(path, F_OK) == 0) {
            return lamp_book_open(path, out, error);
        }
    }
    return refuse_name(folders, name, error);
}

enum lamp_err lamp_book_find(const char *name, struct lamp_book **out, struct lamp_error *error)
{
    if (strchr(name, '/') != NULL || has_ending(name)) {
        return lamp_book_open(name, out, error);
    }
    if (lamp_book_check_id(name, NULL) != LAMP_OK) {
        return lamp_fail(error, LAMP_BAD_BOOK, "",
                         "'%.*s' is not the name of a book, expected lower-case letters, digits "
                         "and hyphens, or a path",
                         lamp_field_quoted(name), name);
    }
    struct folders *folders = malloc(sizeof *folders);
    if (folders == NULL) {
        return lamp_fail_memory(error);
    }
    list_folders(folders);
    enum lamp_err err = find_by_id(folders, name, out, error);
    free(folders);
    return err;
}

/* Books in the making of lamp_book_find_all. */
struct library {
    struct lamp_book **at;
    size_t count;
    size_t room;
};

static bool has_book(const struct library *library, const char *id)
{
    for (size_t i = 0; i < library->count; i++) {
        if (strcmp(library->at[i]->id, id) == 0) {
            return true;
        }
    }
    return false;
}

/* Open a book unless it is unreadable or one of that id was found before. */
static enum lamp_err add_book(struct library *library, const char *path)
{
    struct lamp_book *book = NULL;
    enum lamp_err err = lamp_book_open(path, &book, NULL);
    if (err != LAMP_OK || has_book(library, book->id)) {
        lamp_book_free(book);
        return err == LAMP_NO_MEMORY ? err : LAMP_OK;
    }
    void *at = library->at;
    err = lamp_array_room(&at, &library->room, library->count, sizeof(struct lamp_book *),
                          (size_t)FOLDERS_MAX * NAMES_MAX);
    library->at = at;
    if (err != LAMP_OK) {
        lamp_book_free(book);
        return LAMP_NO_MEMORY;
    }
    library->at[library->count++] = book;
    return LAMP_OK;
}

static enum lamp_err add_books(struct library *library, const char *folder)
{
    struct names names = {0};
    enum lamp_err err = list_names(folder, &names);
    for (size_t i = 0; err == LAMP_OK && i < names.count; i++) {
        char path[PATH_BYTES_MAX];
        if (join(folder, names.at[i], path)) {
            err = add_book(library, path);
        }
    }
    free_names(&names);
    return err;
}

enum lamp_err lamp_book_find_all(struct lamp_book ***out, size_t *count)
{
    struct folders *folders = malloc(sizeof *folders);
    struct library library = {0};
    enum lamp_err err = folders == NULL ? LAMP_NO_MEMORY : LAMP_OK;
    if (err == LAMP_OK) {
        list_folders(folders);
    }
    for (size_t i = 0; err == LAMP_OK && i < folders->count; i++) {
        err = add_books(&library, folders->at[i]);
    }
    free(folders);
    if (err != LAMP_OK) {
        for (size_t i = 0; i < library.count; i++) {
            lamp_book_free(library.at[i]);
        }
        free(library.at);
        return err;
    }
    *out = library.at;
    *count = library.count;
    return LAMP_OK;
}
