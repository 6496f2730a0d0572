/* codebook_find.c - Books are found by name, folder by folder, and a near name is told. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "lampread/codebook.h"
#include "support/suite.h"

static char root[] = "/tmp/lampread-find-XXXXXX";

static void make_folder(const char *path)
{
    ck_assert_int_eq(mkdir(path, 0700), 0);
}

static void write_book(const char *path, const char *id, const char *board)
{
    FILE *file = fopen(path, "w");
    ck_assert_ptr_nonnull(file);
    fprintf(file, "book: %s\nboard: %s\nsource: s\ncodes:\n- {id: a, pattern: flicker, means: A}\n",
            id, board);
    ck_assert_int_eq(fclose(file), 0);
}

/* Three folders, each with a book of its own and one that all have. */
static void set_up(void)
{
    ck_assert_ptr_nonnull(mkdtemp(root));
    ck_assert_int_eq(chdir(root), 0);
    make_folder("codebooks");
    make_folder("data");
    make_folder("data/lampread");
    make_folder("data/lampread/codebooks");
    make_folder("more");
    write_book("codebooks/near.yaml", "near", "near");
    write_book("codebooks/all.yaml", "all", "here");
    write_book("data/lampread/codebooks/mine.yaml", "mine", "mine");
    write_book("data/lampread/codebooks/all.yaml", "all", "data");
    write_book("more/other.yaml", "other", "other");
    write_book("more/all.yaml", "all", "more");
    char path[256];
    snprintf(path, sizeof path, "%s/data", root);
    ck_assert_int_eq(setenv("XDG_DATA_HOME", path, 1), 0);
    snprintf(path, sizeof path, "%s/more", root);
    ck_assert_int_eq(setenv("LAMPREAD_BOOKS", path, 1), 0);
    ck_assert_int_eq(unsetenv("HOME"), 0);
    make_folder("system");
    make_folder("system/lampread");
    make_folder("system/lampread/codebooks");
    write_book("system/lampread/codebooks/far.yaml", "far", "far");
    write_book("system/lampread/codebooks/all.yaml", "all", "system");
    write_book("beside.yaml", "beside", "beside");
    /* A relative folder is passed over, as the specification has it. */
    snprintf(path, sizeof path, "more:%s/none:%s/system", root, root);
    ck_assert_int_eq(setenv("XDG_DATA_DIRS", path, 1), 0);
}

static void tear_down(void)
{
    static const char *const files[] = {"codebooks/near.yaml",
                                        "codebooks/all.yaml",
                                        "codebooks/broken.yaml",
                                        "data/lampread/codebooks/mine.yaml",
                                        "data/lampread/codebooks/all.yaml",
                                        "more/other.yaml",
                                        "more/all.yaml",
                                        "system/lampread/codebooks/far.yaml",
                                        "system/lampread/codebooks/all.yaml",
                                        "beside.yaml"};
    static const char *const folders[] = {
        "codebooks", "data/lampread/codebooks",   "data/lampread",   "data",
        "more",      "system/lampread/codebooks", "system/lampread", "system"};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        (void)unlink(files[i]);
    }
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++) {
        (void)rmdir(folders[i]);
    }
    (void)chdir("/");
    (void)rmdir(root);
}

/* Names, and the board of the book that must be found. */
static const struct {
    const char *name;
    const char *board;
} found[] = {
    {"near", "near"},     {"mine", "mine"}, {"other", "other"},        {"far", "far"},
    {"beside", "beside"}, {"all", "here"},  {"more/all.yaml", "more"}, {"./more/all.yaml", "more"},
};

START_TEST(a_book_is_found_in_the_first_folder_that_has_it)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    ck_assert_msg(lamp_book_find(found[_i].name, &book, &error) == LAMP_OK, "%s", error.sentence);
    ck_assert_str_eq(book->board, found[_i].board);
    lamp_book_free(book);
}
END_TEST

static const struct {
    const char *name;
    const char *place;
    const char *begins;
} missing[] = {
    {"naer", "", "no book is called 'naer', did you mean 'near'?"},
    {"othr", "", "no book is called 'othr', did you mean 'other'?"},
    {"zzzzzzzz", "",
     "no book is called 'zzzzzzzz', expected one in the working folder, ./codebooks, the "
     "user's data folder, $LAMPREAD_BOOKS, $XDG_DATA_DIRS or /"},
    {"Near", "",
     "'Near' is not the name of a book, expected lower-case letters, digits and hyphens, or a "
     "path"},
    {"..", "",
     "'..' is not the name of a book, expected lower-case letters, digits and hyphens, or a path"},
    {"", "",
     "'' is not the name of a book, expected lower-case letters, digits and hyphens, or a path"},
    {"none.yaml", "none.yaml", "there is no such file, expected a codebook"},
    {"more/none", "more/none", "there is no such file, expected a codebook"},
    {"more/all.yaml/x", "more/all.yaml/x", "there is no such folder, expected a codebook"},
};

START_TEST(a_book_that_is_not_there_is_told_with_the_nearest_name)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_book_find(missing[_i].name, &book, &error), LAMP_BAD_BOOK);
    ck_assert_ptr_null(book);
    ck_assert_str_eq(error.place, missing[_i].place);
    ck_assert_msg(strncmp(error.sentence, missing[_i].begins, strlen(missing[_i].begins)) == 0,
                  "%s", error.sentence);
}
END_TEST

static const char *board_of(struct lamp_book *const *books, size_t count, const char *id)
{
    const char *board = NULL;
    for (size_t i = 0; i < count; i++) {
        if (strcmp(books[i]->id, id) == 0) {
            ck_assert_ptr_null(board);
            board = books[i]->board;
        }
    }
    return board;
}

START_TEST(all_books_are_found_once_and_unreadable_ones_left_out)
{
    struct lamp_book **books = NULL;
    size_t count = 0;
    FILE *file = fopen("codebooks/broken.yaml", "w");
    ck_assert_ptr_nonnull(file);
    fputs("book: [", file);
    ck_assert_int_eq(fclose(file), 0);
    ck_assert_int_eq(lamp_book_find_all(&books, &count), LAMP_OK);
    ck_assert_uint_ge(count, 4);
    ck_assert_str_eq(board_of(books, count, "near"), "near");
    ck_assert_str_eq(board_of(books, count, "mine"), "mine");
    ck_assert_str_eq(board_of(books, count, "other"), "other");
    ck_assert_str_eq(board_of(books, count, "all"), "here");
    for (size_t i = 0; i < count; i++) {
        lamp_book_free(books[i]);
    }
    free(books);
}
END_TEST

START_TEST(the_data_folder_is_under_home_where_nothing_else_is_said)
{
    struct lamp_book *book = NULL;
    char path[256];
    snprintf(path, sizeof path, "%s/home", root);
    make_folder("home");
    make_folder("home/.local");
    make_folder("home/.local/share");
    ck_assert_int_eq(rename("data/lampread", "home/.local/share/lampread"), 0);
    ck_assert_int_eq(setenv("HOME", path, 1), 0);
    ck_assert_int_eq(setenv("XDG_DATA_HOME", "relative/is/passed/over", 1), 0);
    enum lamp_err err = lamp_book_find("mine", &book, NULL);
    ck_assert_int_eq(rename("home/.local/share/lampread", "data/lampread"), 0);
    (void)rmdir("home/.local/share");
    (void)rmdir("home/.local");
    (void)rmdir("home");
    ck_assert_int_eq(err, LAMP_OK);
    lamp_book_free(book);
}
END_TEST

#define COUNT(table) (int)(sizeof(table) / sizeof(table)[0])

int main(void)
{
    TCase *tests = suite_begin("codebook_find");
    tcase_add_unchecked_fixture(tests, set_up, tear_down);
    tcase_add_loop_test(tests, a_book_is_found_in_the_first_folder_that_has_it, 0, COUNT(found));
    tcase_add_loop_test(tests, a_book_that_is_not_there_is_told_with_the_nearest_name, 0,
                        COUNT(missing));
    tcase_add_test(tests, all_books_are_found_once_and_unreadable_ones_left_out);
    tcase_add_test(tests, the_data_folder_is_under_home_where_nothing_else_is_said);
    return suite_end();
}
