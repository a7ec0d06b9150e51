/* The model of the boat: channels appear as the bus speaks, each with its sender, status, period
 * and history; engines are known to run or stand, for how long, and when their speed last changed.
 * No I/O, no clock: time comes with the messages and with plant_tick.
 *
 * Senders. A sender is interface and address, and follows its NAME when the address changes. A
 * second sender of a key gets `key@SOURCE` and is marked `second`. Quantities without an instance
 * (speed; 130310/130311) take the first sender, and another one when it falls silent.
 * Fields that no sender ever filled make no channel, unless the message is about nothing else
 * (130312, 130316, 127505) or the key is configured.
 * Stale. A repeating channel learns its period and is stale after 3 of them, at least 2 s.
 * Derived. Once a second of plant_tick, channels that no box sends are worked out from others
 * (derive.c): their `derived` is set, source is 255 and iface 0, and they do not repeat.
 * Switched off. A sender that stops as a whole, or turns all to not-available, while its engine
 * stops or stands: its channels are stale (not available) with switched_off set. So are those of a
 * box that sends alternating current and chargers alone, when it stops as a whole. The verdict may
 * change later, when the engine proves to run or to stand; `status` is then told again with
 * before equal to the status. */
#ifndef STOKEHOLD_PLANT_PLANT_H
#define STOKEHOLD_PLANT_PLANT_H

#include "config/settings.h"
#include "plant/channel.h"
#include "plant/engine.h"
#include "plant/fuel.h"
#include "plant/vent.h"
#include "wire/wire.h"

#define PLANT_ENGINES  8
#define PLANT_SPACES   8    /* engine spaces whose cooling is followed */
#define PLANT_IFACES   16   /* as many as a source tells apart; messages of others are counted */
#define PLANT_CHANNELS 1024 /* bounded: what comes after is counted, not kept */

struct source_seen { /* one address on one interface */
    bool seen;
    uint64_t name;   /* 0: no claim heard */
    uint64_t frames; /* messages of the catalogue */
    int64_t last_ns; /* mono */
    uint32_t name_changes;
    uint32_t gaps; /* times that something it sends fell silent, and was not switched off */
    /* Trouble codes that were active before (J1939 DM2), as it last said: how many, and the first.
     */
    uint8_t earlier, earlier_fmi;
    uint32_t earlier_spn;
};

/* Told as things happen, within plant_message and plant_tick; any may be NULL. For one message:
 * appeared, conflict, engine, status, reading, in this order, with the channel already up to
 * date. conflict is told once for each second sender. */
struct plant_listener {
    void *ctx;
    void (*appeared)(void *ctx, struct channel *c);                 /* before its first reading */
    void (*reading)(void *ctx, struct channel *c, struct stamp at); /* any status but NEVER */
    void (*status)(void *ctx, struct channel *c, enum reading_status before, struct stamp at);
    void (*conflict)(void *ctx, struct channel *second, struct channel *holder, struct stamp at);
    void (*engine)(void *ctx, int engine, enum engine_state before, struct stamp at);
};

/* What was burnt and what the counters say of it, since the start. */
struct fuel_account {
    struct fuel_trip engines[PLANT_ENGINES];
};

struct plant;
/* settings must outlive the plant. NULL when out of memory. */
struct plant *plant_new(const struct settings *settings);
void plant_free(struct plant *p);
/* Adds a listener; false past four. Channels that are already there are not told again. */
bool plant_listen(struct plant *p, struct plant_listener l);
/* A new configuration for a running plant: labels, calibration, names. */
void plant_reconfigure(struct plant *p, const struct settings *settings);

/* iface_name is told once per interface index, for keys such as exhaust.0@can1:31. */
void plant_name_iface(struct plant *p, uint8_t iface, const char *name);
void plant_message(struct plant *p, const struct message *m);
/* The same where its values are known already: those that decode_values gives. */
struct wire_value; /* wire/decode.h */
void plant_values(struct plant *p, const struct message *m, const struct wire_value *v, size_t n);
/* Time goes on: finds what is stale and what is switched off. Call about every 250 ms of mono
 * time, and before anything is shown. */
void plant_tick(struct plant *p, struct stamp now);
/* The record has a hole that ends now: nobody is late because of it. */
void plant_gap(struct plant *p, struct stamp now);
/* The whole bus was quiet, or the log's clock was set, until now: nobody is late because of it. All
 * else goes on. */
void plant_hole(struct plant *p, struct stamp now);

size_t plant_count(const struct plant *p);
struct channel *plant_channel(const struct plant *p, size_t i); /* in order of appearance */
struct channel *const *plant_channels(const struct plant *p);   /* all, plant_count of them */
/* The channel that holds the key (not a second sender); NULL where there is none. */
struct channel *plant_find(const struct plant *p, struct channel_id id);
struct channel *plant_find_key(const struct plant *p, const char *key); /* second senders too */
const struct engine *plant_engine(const struct plant *p, int engine);   /* never NULL */
/* The slot of the engine with this instance; -1 where nothing of it was heard or configured, or
 * there was no slot left. */
int plant_engine_slot(const struct plant *p, uint8_t instance);
/* The slots of all that exist, as they are shown: by instance, generators after the others.
 * Returns how many. */
int plant_engines_in_order(const struct plant *p, int slots[PLANT_ENGINES]);
/* The other one of two that drive the boat; -1 where there are not just two. */
int plant_engine_twin(const struct plant *p, int engine);
/* How many exist, generators included; they need not be the first ones, so loop to
 * PLANT_ENGINES. */
int plant_engine_count(const struct plant *p);
bool plant_any_running(const struct plant *p);
/* Place of a channel in capitals: "PORT", "STARBOARD", "ENGINE", "" for what the boat has once, the
 * number of the key for one of several tanks, batteries or switches. c need not be of this plant
 * (what was never heard): then its engine or "". Never NULL. */
const char *plant_place(const struct plant *p, const struct channel *c);
const struct source_seen *plant_source(const struct plant *p, uint8_t iface, uint8_t address);
const struct fuel_account *plant_fuel(const struct plant *p);
const struct vent_space *plant_space(const struct plant *p, int place); /* NULL out of range */
uint64_t plant_dropped(const struct plant *p); /* channels and values there was no room for */
struct stamp plant_now(const struct plant *p);
const struct settings *plant_settings(const struct plant *p);

#endif
