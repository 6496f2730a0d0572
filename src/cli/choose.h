/* choose.h - Which lamp of a report shows the code that a book is taught. */
#ifndef LAMP_CLI_CHOOSE_H
#define LAMP_CLI_CHOOSE_H

#include "lampread/codebook.h"
#include "lampread/report.h"

/** The lamp of a book called `name`, NULL if there is none. */
const struct lamp_book_lamp *choose_book_lamp(const struct lamp_book *book, const char *name);

/** Refuse a name that the book lacks and that is spelt nearly as one of its lamps. @return LAMP_OK,
 * LAMP_BAD_USE. */
enum lamp_err choose_check_name(const struct lamp_book *book, const char *name,
                                struct lamp_error *error);

/** The lamp called `name`, else the only one, else the only one that changes; NULL where it has to
 * be pointed at, as `error` says. */
const struct lamp_report_lamp *choose_lamp(const struct lamp_report *report, const char *name,
                                           struct lamp_error *error);

/** Refuse light whose colour cannot be that of the book's lamp `name` (NULL: any). @return LAMP_OK,
 * LAMP_BAD_USE. */
enum lamp_err choose_check_colour(const struct lamp_book *book, const char *name,
                                  enum lamp_colour seen, struct lamp_error *error);

#endif
