/* acc_judge.h - Whether what was told of a lamp is what it played. */
#ifndef LAMP_TESTS_ACC_JUDGE_H
#define LAMP_TESTS_ACC_JUDGE_H

#include "lampread/report.h"

/** What became of one lamp, the best first. */
enum acc_outcome {
    ACC_RIGHT,        /**< The entry it played is told. */
    ACC_OTHER,        /**< A rhythm is told, and no entry: unlisted, fade, flicker, blink. */
    ACC_UNDECIDED,    /**< The tool says that it cannot tell. */
    ACC_NOT_FOUND,    /**< The lamp is not in the report. */
    ACC_FLICKER_CODE, /**< Irregular light, and an entry with a rhythm is told. */
    ACC_WRONG,        /**< Another entry is told. */
    ACC_OUTCOMES
};

/** Short name of an outcome. Static. */
const char *acc_outcome_name(enum acc_outcome outcome);

/** The entry that is told of `lamp`; NULL if none is. */
const struct lamp_code *acc_told(const struct lamp_report_lamp *lamp);

/** @param lamp  NULL: not found. @param code  what it played; NULL: nothing that the books list. */
enum acc_outcome acc_judge(const struct lamp_report_lamp *lamp, const struct lamp_code *code);

/** Whether an entry with a rhythm of its own is told of `lamp`. */
bool acc_claims_code(const struct lamp_report_lamp *lamp);

/** The reported lamp at `region`, nearest first and within 1.5 sizes of it; NULL if there is none.
 */
const struct lamp_report_lamp *acc_lamp_at(const struct lamp_report *report,
                                           const struct lamp_region *region);

/** What was told of `lamp` in one line: verdict, confidence, entry, pattern. */
void acc_describe(const struct lamp_report_lamp *lamp, char *out, size_t size);

#endif
