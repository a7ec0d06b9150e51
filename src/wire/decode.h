/* Messages to values: the one interpreter over the catalogue's field table, and the one place
 * where a byte becomes a temperature. Reserved, error and not-available codes are told apart
 * before sign extension and scaling and never become numbers; IEC 61162-3 and J1939 differ in
 * their rule (catalogue.h).
 * A field that the message is too short for gives no value. A message that names no place (instance
 * not available, a J1939 address that is not an engine's) gives none for it either. */
#ifndef STOKEHOLD_WIRE_DECODE_H
#define STOKEHOLD_WIRE_DECODE_H

#include "base/battery.h"
#include "base/quantity.h"
#include "base/reading.h"
#include "wire/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct wire_value {
    struct channel_id id;
    enum reading_status status; /* OK, NOT_AVAILABLE or ERROR */
    double value;               /* base unit; 0 and meaningless unless OK */
    uint8_t decimals;           /* enough to be within a tenth of one raw step */
    bool at_end;                /* the highest or lowest that its field can hold (decode_at_end) */
    uint8_t field_rank; /* 0: the rightful message for this key; higher: fills in only where no
                           lower one is heard (130310 and 130311 for sea and air) */
    bool repeats;       /* sent with a period, so that it can fall silent */
    double capacity_l;  /* tanks: capacity where sent, else 0 */
};

#define DECODE_VALUES_MAX 32 /* 127501 gives 28 */

/* Values of m that become channels; 0 for a PGN without any. out holds DECODE_VALUES_MAX. */
size_t decode_values(const struct message *m, struct wire_value *out);

/* One field by itself, in its base unit (catalogue.h), index counting from 0 where it repeats.
 * *value is touched only where the result is READING_OK; READING_NEVER where the message is too
 * short to hold the field. For the muster and for fields that are not channels. */
struct field_info;
enum reading_status decode_field(const struct message *m, const struct field_info *f,
                                 unsigned index, double *value);
/* Whether a raw number of the field is the last one at either end that is a number. Where an end is
 * where such things end by themselves (nought, a full 100 %) it is none. */
bool decode_at_end(const struct field_info *f, uint64_t raw);
/* The place that the message itself names for values of f; false where it names none (instance not
 * available, or an address that is not an engine's). */
bool decode_place(const struct message *m, const struct field_info *f, unsigned index,
                  struct channel_id *out);

/* Engine status words of 127489; false where the message is too short or names no engine. A word
 * that is not available or an error (FFFF, FFFE) is handed out as 0: it reports nothing. */
bool decode_engine_status(const struct message *m, uint8_t *engine, uint16_t *status1,
                          uint16_t *status2);
/* The words of the standard for bit 0..15 of word 1 or 2; NULL for manufacturer bits. */
const char *decode_engine_status_text(int word, int bit);

/* 126992: wall clock as the bus tells it. */
bool decode_system_time(const struct message *m, int64_t *wall_ns);

struct heartbeat {
    double interval_s;                       /* 0 where not available */
    int sequence;                            /* -1 where not available */
    int controller1, controller2, equipment; /* raw 2-bit codes */
};
bool decode_heartbeat(const struct message *m, struct heartbeat *out);

struct product_info { /* 126996; text stripped to printable */
    double version;   /* of the standard's data base, 0 where not available */
    int code;         /* -1 where not available */
    char model[33], software[33], model_version[33], serial[33];
    int certification, load_equivalency; /* -1 where not available; 1 unit is 50 mA */
};
bool decode_product_info(const struct message *m, struct product_info *out);

/* What an engine's maker says of it: 127498, or J1939's engine configuration (65251). NaN and "":
 * not said. */
struct engine_maker {
    double rated_rpm;               /* 127498 */
    double idle_rpm, high_idle_rpm; /* 65251: SPN 188, 532 */
    double torque_nm;               /* 65251: SPN 544, what 100 % stands for */
    char vin[40], software[40];     /* 127498; text stripped to printable */
};
bool decode_engine_maker(const struct message *m, struct engine_maker *out);

struct battery_setup { /* 127513 */
    uint8_t battery;
    int type;          /* 0 flooded, 1 gel, 2 AGM; -1 where not available */
    int chemistry;     /* 0 lead, 1 lithium, 2 NiCd, 3 ZnO, 4 NiMH; -1 where not available */
    int nominal_volts; /* 0 where not available */
};
bool decode_battery_setup(const struct message *m, struct battery_setup *out);
enum battery_chemistry battery_setup_chemistry(const struct battery_setup *s);

/* What others raise: 126983 (state) and 126985 (texts) of the same id belong together. */
struct bus_alert {
    int type; /* 1 emergency alarm, 2 alarm, 5 warning, 8 caution; -1 not available */
    uint8_t system, subsystem;
    uint16_t id;
    uint64_t source; /* NAME */
    uint8_t instance, index, occurrence;
    int priority, state;                /* 126983 only; -1 not available */
    char description[64], location[64]; /* 126985 only; stripped to printable */
};
bool decode_bus_alert(const struct message *m, struct bus_alert *out);

#endif
