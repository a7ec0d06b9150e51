/* The sign-off list: per channel what a technician confirmed, how, by whom and when. A text file
 * that is only ever added to: each confirmation is one section at its end, so that work can be
 * resumed, edited by hand, and survives a power cut.
 *
 *   [exhaust.0]
 *   check = ice water
 *   reference = 0.00 C
 *   reading = 0.42 C
 *   tolerance = 1.50 K
 *   error = 0.42 K
 *   verdict = pass
 *   by = R. Example
 *   at = 2026-05-04T14:12:07Z
 *   name = C0968200FF000408
 *   serial = DRILL-032
 *   correction = 1.0200 -0.40
 *   note = probe out of the elbow
 *
 * Values are in base units. No clock: the time comes with the entry. */
#ifndef STOKEHOLD_REPORT_SIGNOFF_SIGNOFF_H
#define STOKEHOLD_REPORT_SIGNOFF_SIGNOFF_H

#include "base/err.h"
#include "base/quantity.h"
#include "report/muster/muster.h"

#include <stdio.h>

#define SIGNOFF_ENTRIES 1000

enum signoff_check {
    SIGNOFF_WARMED,  /* by hand or heat gun: the reading that moved is this sensor's */
    SIGNOFF_DIPPED,  /* a tank, with a stick */
    SIGNOFF_ICE,     /* in ice water */
    SIGNOFF_BOILING, /* in boiling water, corrected for height or pressure */
    SIGNOFF_COMPARED /* with a reference instrument */
};

enum signoff_verdict {
    SIGNOFF_PASS,
    SIGNOFF_FAIL,
    SIGNOFF_NOTED, /* no tolerance was given: error kept, nothing judged */
};

struct signoff_entry {
    struct channel_id id;
    enum signoff_check check;
    bool has_reference, has_tolerance;
    double reference, reading, tolerance, error; /* base unit; error = reading - reference */
    double moved;                                /* warmed: how far it rose */
    enum signoff_verdict verdict;
    char by[40], note[80];
    int64_t at_ns; /* wall */
    /* the box whose sender was confirmed, so that an exchanged one is open again, and what its
     * reading was corrected by */
    uint64_t name;   /* 0: it never said */
    char serial[33]; /* "": it never said */
    bool has_correction;
    double gain, offset;
};

struct signoff {
    struct signoff_entry *entries; /* in the order of the file */
    size_t count;
};

const char *signoff_check_text(enum signoff_check c); /* "ice water" */
/* Takes "ice water" and "ice-water". */
bool signoff_check_parse(const char *s, enum signoff_check *out);
const char *signoff_verdict_text(enum signoff_verdict v);

/* Boiling point of water at a pressure, and the pressure of the standard atmosphere at a height.
 * Antoine's equation with the usual constants for 1 to 100 °C (from memory) and the ICAO standard
 * atmosphere. */
double signoff_boiling_c(double pressure_kpa);
double signoff_pressure_kpa(double altitude_m);

/* What is asked for, before the reading is known. */
struct signoff_request {
    struct channel_id id;
    enum signoff_check check;
    bool has_reference, has_tolerance;
    double reference; /* base unit; for a tank in litres where reference_is_litres */
    bool reference_is_litres;
    double tolerance;
    double altitude_m; /* for boiling water; 0 at the sea */
    bool has_pressure;
    double pressure_kpa; /* a barometer's, in place of altitude */
    const char *by, *note;
    int64_t at_ns;
};
/* Fills *out from the muster's readings, corrected as the configuration says: what the watch would
 * show. False with e where the channel was not heard, a reference
 * is missing, or the check does not suit the channel. */
bool signoff_judge(const struct muster *m, const struct signoff_request *r,
                   struct signoff_entry *out, struct err *e);

/* The list at path; an absent file is an empty list. NULL with e (`path:line: ...`) when it cannot
 * be read or understood. The caller frees with signoff_free, NULL allowed there. */
struct signoff *signoff_read(const char *path, struct err *e);
void signoff_free(struct signoff *s);
/* Adds one entry at the end of the file, making it with a heading where it is not there, and has it
 * written to the disk. */
bool signoff_append(const char *path, const struct signoff_entry *entry, struct err *e);

/* Corrections that a check in ice and in boiling water give: shown = reading * gain + offset. The
 * latest of both is taken; false without both. */
bool signoff_two_points(const struct signoff *s, struct channel_id id, double *gain,
                        double *offset);
/* Entries whose latest check of its sort failed. */
int signoff_failures(const struct signoff *s);
bool signoff_is_tank(struct channel_id id);
/* What a technician is expected to try with his own hands: senders that can be at fault by
 * themselves. */
bool signoff_wants(const struct muster *m, const struct muster_value *v);
enum signoff_standing {
    SIGNOFF_OPEN,
    SIGNOFF_EXCHANGED, /* another box sends it than the one that was confirmed */
    SIGNOFF_CONFIRMED
};
enum signoff_standing signoff_standing(const struct signoff *s, const struct muster *m,
                                       const struct muster_value *v);
/* What is confirmed and what is open. m may be NULL: then only the list itself. */
void signoff_print(const struct signoff *s, const struct muster *m, bool utc, FILE *out);

#endif
