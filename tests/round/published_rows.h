/* published_rows.h - Published light patterns, as the standards give them: numbers to be read back.
 *
 * Basis: P read in the primary text (kernel source), R read in a restatement of the standard.
 * Lengths are in ms, lit first, and repeat. None of them is taken from a codebook of this project:
 * the books are held to them too.
 */
#ifndef LAMP_TESTS_PUBLISHED_ROWS_H
#define LAMP_TESTS_PUBLISHED_ROWS_H

#include <stddef.h>

enum { PUBLISHED_LENGTHS_MAX = 16 };

/** What a lamp does. */
enum published_kind { PUBLISHED_WAVE, PUBLISHED_ON, PUBLISHED_OFF };

/** One row. */
struct published_row {
    const char *standard;
    char basis;
    const char *name;
    const char *book; /**< The shipped book that holds it. */
    const char *id;   /**< Its entry there. */
    const char *
        twins; /**< Other entries of this book that may be meant, parted by blanks; NULL if none. */
    enum published_kind kind;
    double length_ms[PUBLISHED_LENGTHS_MAX]; /**< Ends at the first 0. */
};

#define CIA  "CiA 303-3"
#define ETG  "ETG.1300"
#define IBPI "SFF-8489"
#define IEC  "IEC 60073:2002"
#define IALA "IALA R0110, S-57, INT 1"
#define KERN "Linux LED triggers"

/* clang-format off */
#define FLICKERING   PUBLISHED_WAVE, {50, 50}
#define BLINKING     PUBLISHED_WAVE, {200, 200}
#define SINGLE_FLASH PUBLISHED_WAVE, {200, 1000}
#define DOUBLE_FLASH PUBLISHED_WAVE, {200, 200, 200, 1000}
#define TRIPLE_FLASH PUBLISHED_WAVE, {200, 200, 200, 200, 200, 1000}
#define FOUR_FLASHES PUBLISHED_WAVE, {200, 200, 200, 200, 200, 200, 200, 1000}
#define STEADY_ON    PUBLISHED_ON, {0}
#define STEADY_OFF   PUBLISHED_OFF, {0}
#define AT_HZ(hz)    PUBLISHED_WAVE, {500.0 / (hz), 500.0 / (hz)}
#define PER_MIN(n)   PUBLISHED_WAVE, {30000.0 / (n), 30000.0 / (n)}
/* clang-format on */

static const struct published_row published[] = {
    {CIA, 'R', "RUN flickering", "canopen", "run-flickering", NULL, FLICKERING},
    {CIA, 'R', "RUN blinking", "canopen", "run-blinking", NULL, BLINKING},
    {CIA, 'R', "RUN single flash", "canopen", "run-single-flash", NULL, SINGLE_FLASH},
    {CIA, 'R', "RUN triple flash", "canopen", "run-triple-flash", NULL, TRIPLE_FLASH},
    {CIA, 'R', "RUN on", "canopen", "run-on", NULL, STEADY_ON},
    {CIA, 'R', "ERR off", "canopen", "err-off", NULL, STEADY_OFF},
    {CIA, 'R', "ERR flickering", "canopen", "err-flickering", NULL, FLICKERING},
    {CIA, 'R', "ERR blinking", "canopen", "err-blinking", NULL, BLINKING},
    {CIA, 'R', "ERR single flash", "canopen", "err-single-flash", NULL, SINGLE_FLASH},
    {CIA, 'R', "ERR double flash", "canopen", "err-double-flash", NULL, DOUBLE_FLASH},
    {CIA, 'R', "ERR triple flash", "canopen", "err-triple-flash", NULL, TRIPLE_FLASH},
    {CIA, 'R', "ERR quadruple flash", "canopen", "err-quadruple-flash", NULL, FOUR_FLASHES},
    {CIA, 'R', "ERR on", "canopen", "err-on", NULL, STEADY_ON},
    {ETG, 'R', "RUN off", "ethercat", "run-off", NULL, STEADY_OFF},
    {ETG, 'R', "RUN flickering", "ethercat", "run-flickering", NULL, FLICKERING},
    {ETG, 'R', "RUN blinking", "ethercat", "run-blinking", NULL, BLINKING},
    {ETG, 'R', "RUN single flash", "ethercat", "run-single-flash", NULL, SINGLE_FLASH},
    {ETG, 'R', "RUN triple flash", "ethercat", "run-triple-flash", NULL, TRIPLE_FLASH},
    {ETG, 'R', "RUN on", "ethercat", "run-on", NULL, STEADY_ON},
    {ETG, 'R', "ERR off", "ethercat", "err-off", NULL, STEADY_OFF},
    {ETG, 'R', "ERR flickering", "ethercat", "err-flickering", NULL, FLICKERING},
    {ETG, 'R', "ERR blinking", "ethercat", "err-blinking", NULL, BLINKING},
    {ETG, 'R', "ERR single flash", "ethercat", "err-single-flash", NULL, SINGLE_FLASH},
    {ETG, 'R', "ERR double flash", "ethercat", "err-double-flash", NULL, DOUBLE_FLASH},
    {ETG, 'R', "ERR triple flash", "ethercat", "err-triple-flash", NULL, TRIPLE_FLASH},
    {ETG, 'R', "ERR quadruple flash", "ethercat", "err-quadruple-flash", NULL, FOUR_FLASHES},
    {IBPI, 'R', "locate 4 Hz", "drive-bay", "locate", NULL, AT_HZ(4)},
    {IBPI, 'R', "activity 4 Hz", "drive-bay", "activity", NULL, AT_HZ(4)},
    {IBPI, 'R', "rebuild 1 Hz", "drive-bay", "rebuild", NULL, AT_HZ(1)},
    {IBPI, 'R', "fail", "drive-bay", "fail", NULL, STEADY_ON},
    {IBPI, 'R', "idle", "drive-bay", "idle", NULL, STEADY_ON},
    {IEC, 'R', "normal, 84/min", "iec-60073", "normal-flashing", NULL, PER_MIN(84)},
    {IEC, 'R', "normal, 120/min", "iec-60073", "normal-flashing", NULL, PER_MIN(120)},
    {IEC, 'R', "normal, 168/min", "iec-60073", "normal-flashing", NULL, PER_MIN(168)},
    {IEC, 'R', "slow, 24/min", "iec-60073", "slow-flashing", NULL, PER_MIN(24)},
    {IEC, 'R', "slow, 34/min", "iec-60073", "slow-flashing", NULL, PER_MIN(34)},
    {IEC, 'R', "slow, 48/min", "iec-60073", "slow-flashing", NULL, PER_MIN(48)},
    {IEC, 'R', "red", "iec-60073", "red-on", NULL, STEADY_ON},
    {IEC, 'R', "yellow", "iec-60073", "yellow-on", NULL, STEADY_ON},
    {IEC, 'R', "green", "iec-60073", "green-on", NULL, STEADY_ON},
    {IEC, 'R', "blue", "iec-60073", "blue-on", NULL, STEADY_ON},
    {IEC, 'R', "white", "iec-60073", "white-on", NULL, STEADY_ON},
    {"IEEE P1621 draft",
     'R',
     "brief flash",
     "ieee-p1621",
     "brief-flash",
     NULL,
     PUBLISHED_WAVE,
     {100, 1900}},
    {"CIP", 'R', "flashing", "cip", "flashing", NULL, AT_HZ(1)},
    {"PROFINET", 'R', "bus fault", "profinet", "bus-fault", NULL, AT_HZ(2)},
    {"PROFINET", 'R', "DCP signal", "profinet", "signal", NULL, AT_HZ(1)},
    {"PICMG 3.0",
     'R',
     "short blink",
     "picmg-3-0",
     "deactivation",
     NULL,
     PUBLISHED_WAVE,
     {100, 900}},
    {"PICMG 3.0", 'R', "long blink", "picmg-3-0", "activation", NULL, PUBLISHED_WAVE, {900, 100}},
    {"PICMG 3.0", 'R', "on", "picmg-3-0", "safe", NULL, STEADY_ON},
    {"SAE J1939-73", 'R', "slow 1 Hz", "j1939", "slow", NULL, AT_HZ(1)},
    {"SAE J1939-73", 'R', "fast 2 Hz", "j1939", "fast", NULL, AT_HZ(2)},
    {"UN Reg. 48", 'R', "60/min", "un-reg-48", "direction-indicator", NULL, PER_MIN(60)},
    {"UN Reg. 48", 'R', "90/min", "un-reg-48", "direction-indicator", NULL, PER_MIN(90)},
    {"UN Reg. 48", 'R', "120/min", "un-reg-48", "direction-indicator", NULL, PER_MIN(120)},
    {IALA, 'R', "F", "marine-lights", "fixed", NULL, STEADY_ON},
    {IALA,
     'R',
     "Mo(A) 7 s",
     "marine-lights",
     "mo-a-7s",
     NULL,
     PUBLISHED_WAVE,
     {500, 500, 1500, 4500}},
    {IALA, 'R', "Iso 10 s", "marine-lights", "iso-10s", NULL, PUBLISHED_WAVE, {5000, 5000}},
    {IALA,
     'R',
     "Oc(2+1) 12 s",
     "marine-lights",
     "oc-2-1-12s",
     NULL,
     PUBLISHED_WAVE,
     {1000, 1000, 4000, 1000, 4000, 1000}},
    /* The lengths inside this character are ours, within the ranges of R0110: 60 a minute, a long
       flash of 2 s. */
    {IALA,
     'R',
     "Q(6)+LFl 15 s",
     "marine-lights",
     "q-6-lfl-15s",
     NULL,
     PUBLISHED_WAVE,
     {500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 2000, 7000}},
    /* A rate near the border of two classes may be either; where 1/2 is lit, that is ours. */
    {IALA, 'R', "Q, 50/min", "marine-lights", "quick", NULL, PER_MIN(50)},
    {IALA, 'R', "Q, 60/min", "marine-lights", "quick", NULL, PER_MIN(60)},
    {IALA, 'R', "Q, 75/min", "marine-lights", "quick", "very-quick", PER_MIN(75)},
    {IALA, 'R', "VQ, 100/min", "marine-lights", "very-quick", NULL, PER_MIN(100)},
    {IALA, 'R', "VQ, 120/min", "marine-lights", "very-quick", NULL, PER_MIN(120)},
    {IALA, 'R', "UQ, 200/min", "marine-lights", "ultra-quick", NULL, PER_MIN(200)},
    {IALA, 'R', "UQ, 300/min", "marine-lights", "ultra-quick", NULL, PER_MIN(300)},
    {KERN, 'P', "timer", "linux-leds", "timer", "u-boot", AT_HZ(1)},
    {KERN,
     'P',
     "heartbeat, load 0",
     "linux-leds",
     "heartbeat-load-0",
     NULL,
     PUBLISHED_WAVE,
     {70, 245, 70, 875}},
    {KERN,
     'P',
     "heartbeat, load 1",
     "linux-leds",
     "heartbeat-load-1",
     NULL,
     PUBLISHED_WAVE,
     {70, 145, 70, 575}},
    {KERN,
     'P',
     "heartbeat, load 5",
     "linux-leds",
     "heartbeat-load-5",
     NULL,
     PUBLISHED_WAVE,
     {70, 57, 70, 313}},
    {KERN, 'P', "heartbeat, panic", "linux-leds", "heartbeat-panic", NULL, STEADY_OFF},
    {KERN, 'P', "activity, idle", "linux-leds", "activity-idle", NULL, PUBLISHED_WAVE, {10, 990}},
    {KERN, 'P', "activity, 50 %", "linux-leds", "activity-half", NULL, PUBLISHED_WAVE, {10, 90}},
    {KERN, 'P', "activity, 100 %", "linux-leds", "activity-full", NULL, PUBLISHED_WAVE, {90, 10}},
    {KERN, 'P', "activity, panic", "linux-leds", "activity-panic", NULL, STEADY_ON},
    {KERN, 'P', "panic", "linux-leds", "panic", NULL, BLINKING},
    {KERN, 'P', "disk, sustained", "linux-leds", "disk-sustained", NULL, PUBLISHED_WAVE, {30, 30}},
    {KERN, 'P', "netdev, sustained", "linux-leds", "network-sustained", NULL, FLICKERING},
    {"U-Boot", 'P', "default", "linux-leds", "u-boot", "timer", AT_HZ(1)},
};

/** One waveform that means different things: every entry is to be told. */
struct published_twins {
    const char *name;
    double length_ms[2];
    const char *entries; /**< BOOK:ID, parted by blanks. */
};

static const struct published_twins twins[] = {
    {"200/200",
     {200, 200},
     "canopen:run-blinking canopen:err-blinking ethercat:run-blinking ethercat:err-blinking "
     "linux-leds:panic"},
    {"50/50",
     {50, 50},
     "canopen:run-flickering canopen:err-flickering ethercat:run-flickering "
     "ethercat:err-flickering linux-leds:network-sustained"},
    {"500/500",
     {500, 500},
     "linux-leds:timer linux-leds:u-boot cip:flashing drive-bay:rebuild j1939:slow"},
    {"250/250", {250, 250}, "profinet:bus-fault j1939:fast"},
    {"125/125", {125, 125}, "drive-bay:locate drive-bay:activity"},
};

#endif
