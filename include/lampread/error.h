/* error.h - What a call may answer, and one sentence about what went wrong. */
#ifndef LAMPREAD_ERROR_H
#define LAMPREAD_ERROR_H

/** What a call answers. Zero is success; a poor signal is a result with reasons, never one of these. */
enum lamp_err {
    LAMP_OK = 0,      /**< Done. */
    LAMP_END,         /**< The source has nothing more; not a failure. */
    LAMP_NO_MEMORY,   /**< Memory could not be had. */
    LAMP_FULL,        /**< A ceiling named in a header was reached. */
    LAMP_BAD_USE,     /**< An option, name or number that the user gave cannot be used. */
    LAMP_BAD_SOURCE,  /**< A clip, trace or device cannot be read. */
    LAMP_BAD_BOOK,    /**< A codebook cannot be read. */
    LAMP_CANNOT_WRITE,/**< A file cannot be written. */
    LAMP_NOT_YET      /**< A live source has nothing new yet: ask again; not a failure. */
};

/** Longest place and sentence, bytes with the closing zero; longer ones are shortened. */
#define LAMP_PLACE_MAX    256
#define LAMP_SENTENCE_MAX 512

/** Where a call failed, and how, for a person to read. Holds nothing to free. */
struct lamp_error {
    char place[LAMP_PLACE_MAX];       /**< "file:line:column", "file", an option, or "". */
    char sentence[LAMP_SENTENCE_MAX]; /**< What is wrong and what was expected; no full stop, one line. */
};

#endif
