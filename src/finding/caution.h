/* caution.h - The usual cautions, by what the checks ask a person to do. */
#ifndef LAMP_FINDING_CAUTION_H
#define LAMP_FINDING_CAUTION_H

#include "lampread/finding.h"

/** What the checks ask for. */
enum lamp_danger {
    LAMP_DANGER_POWERED, /**< Measuring on a board under power. */
    LAMP_DANGER_SHORT,   /**< Looking for a short. */
    LAMP_DANGER_FLICKER  /**< Watching a lamp that flickers. */
};

/** The cautions that fit, gravest first; never empty. Static. */
struct lamp_strings lamp_cautions_for(enum lamp_danger danger);

#endif
