#include "config/load.h"

#include "base/text.h"
#include "base/when.h"
#include "config/value.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { FILE_BYTES_MAX = 16 * 1024 * 1024 };

static const char builtin_name[] = "built-in";

/* ---- settings and their defaults ---- */

void settings_free(struct settings *s)
{
    if (!s)
        return;
    for (size_t i = 0; i < s->file_count; i++)
        free(s->files[i]);
    free(s->files);
    free(s->channels);
    free(s->rules);
    free(s);
}

/* Fills target with what the schema says before any file is read. */
static void set_initial(const struct schema_section *section, void *target, enum unit unit)
{
    for (size_t i = 0; i < schema_key_count; i++) {
        const struct schema_key *key = &schema_keys[i];
        if (schema_has(section, key) && key->type != TYPE_LIMIT && *key->initial != '\0')
            value_parse(key, target, unit, key->initial, NULL);
    }
}

static bool add_file(struct settings *s, const char *name)
{
    char **grown = realloc(s->files, (s->file_count + 1) * sizeof *grown);
    if (!grown)
        return false;
    s->files = grown;
    char shown[200];
    text_clean(shown, sizeof shown, name, strlen(name));
    s->files[s->file_count] = strdup(shown);
    return s->files[s->file_count] && ++s->file_count;
}

/* Grows an array of count items of size bytes by one; NULL when out of memory. */
static void *grow(void *items, size_t count, size_t size)
{
    if (count % 16 != 0)
        return items;
    return realloc(items, (count + 16) * size);
}

static struct channel_setting *channel_of(struct settings *s, struct channel_id id)
{
    for (size_t i = 0; i < s->channel_count; i++)
        if (channel_id_same(s->channels[i].id, id))
            return &s->channels[i];
    void *grown = grow(s->channels, s->channel_count, sizeof *s->channels);
    if (!grown)
        return NULL;
    s->channels = grown;
    struct channel_setting *c = &s->channels[s->channel_count++];
    *c = (struct channel_setting){.id = id};
    set_initial(schema_find_section("channel"), c, quantity_info((enum quantity)id.quantity)->unit);
    return c;
}

static struct rule_setting *rule_find(struct settings *s, enum rule_kind kind, const char *name)
{
    for (size_t i = 0; i < s->rule_count; i++)
        if (s->rules[i].kind == kind && strcmp(s->rules[i].name, name) == 0)
            return &s->rules[i];
    return NULL;
}

static struct rule_setting *rule_add(struct settings *s, const struct rule_setting *rule)
{
    void *grown = grow(s->rules, s->rule_count, sizeof *s->rules);
    if (!grown)
        return NULL;
    s->rules = grown;
    s->rules[s->rule_count] = *rule;
    return &s->rules[s->rule_count++];
}

/* ---- one section ---- */

static void wrong(struct load *l, const struct reader_entry *e, const struct err *err)
{
    messages_add(l->m, e->at, l->d->file, "[%s] %s: %s", l->d->sections[e->section].title,
                 e->key->key, err->text);
}

static void wrong_section(struct load *l, const struct reader_section *s, const char *what)
{
    messages_add(l->m, s->at, l->d->file, "[%s] %s", s->title, what);
}

/* A limit's figures mean nothing while its channel is not known. */
static bool waits_for_channel(const struct schema_key *key, const void *target)
{
    if (key->scope != SCOPE_RULE || (key->type != TYPE_VALUE && key->type != TYPE_DIFFERENCE))
        return false;
    return ((const struct rule_setting *)target)->id.quantity == QTY_NONE;
}

/* Reads the section's entries into target, `channel` alone or all but it. */
static void read_entries(struct load *l, size_t section, void *target, enum unit unit,
                         bool channel_key)
{
    for (size_t i = 0; i < l->d->entry_count; i++) {
        const struct reader_entry *e = &l->d->entries[i];
        struct err err;
        if (e->section != section || e->key->type == TYPE_LIMIT ||
            (e->key->type == TYPE_CHANNEL) != channel_key)
            continue;
        if (waits_for_channel(e->key, target)) /* said once, by check.c */
            continue;
        if (!value_parse(e->key, target, unit, e->value, &err))
            wrong(l, e, &err);
    }
}

static void read_engine(struct load *l, size_t section)
{
    const struct reader_section *s = &l->d->sections[section];
    long n;
    if (!text_to_long(s->name, 0, ENGINE_INSTANCE_MAX, &n)) {
        wrong_section(l, s, "an engine's number is 0 to 252, as on the bus");
        return;
    }
    struct engine_setting *engine = NULL;
    for (size_t i = 0; i < l->s->engine_count; i++)
        if (l->s->engine[i].instance == n)
            engine = &l->s->engine[i];
    if (!engine && l->s->engine_count == ENGINES_MAX) {
        wrong_section(l, s, "more than 8 engines: no more are watched");
        return;
    }
    if (!engine) {
        engine = &l->s->engine[l->s->engine_count++];
        *engine = (struct engine_setting){.instance = (uint8_t)n};
        set_initial(s->schema, engine, UNIT_NONE);
    }
    engine->at = s->at;
    read_entries(l, section, engine, UNIT_NONE, false);
}

static bool read_channel(struct load *l, size_t section)
{
    const struct reader_section *s = &l->d->sections[section];
    struct channel_id id;
    struct err e;
    if (!value_parse_channel(s->name, &id, NULL, &e)) {
        wrong_section(l, s, e.text);
        return true;
    }
    if (l->s->channel_count >= LOAD_CHANNELS_MAX) {
        wrong_section(l, s, "is one channel too many");
        return true;
    }
    struct channel_setting *c = channel_of(l->s, id);
    if (!c)
        return false;
    c->at = s->at;
    read_entries(l, section, c, quantity_info((enum quantity)id.quantity)->unit, false);
    return true;
}

static bool rule_name_is_good(const char *name)
{
    return strlen(name) < sizeof((struct rule_setting *)0)->name &&
           strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") ==
               strlen(name);
}

static bool read_rule(struct load *l, size_t section)
{
    const struct reader_section *s = &l->d->sections[section];
    if (!rule_name_is_good(s->name)) {
        wrong_section(l, s, "a rule's name is at most 39 letters, digits, '-', '_' or '.'");
        return true;
    }
    struct rule_setting *known = rule_find(l->s, s->schema->kind, s->name);
    struct rule_setting r = {.kind = s->schema->kind, .at = s->at};
    if (known) {
        r = *known;
        r.at = s->at;
    } else {
        text_copy(r.name, sizeof r.name, s->name);
        set_initial(s->schema, &r, UNIT_NONE);
        /* nothing said: what has no channel of its own looks at all of them */
        r.any_place = r.kind != KIND_LIMIT && r.kind != KIND_STATE;
    }
    enum unit before = rule_unit(&r);
    read_entries(l, section, &r, UNIT_NONE, true);
    if (known && rule_unit(&r) != before && r.kind == KIND_LIMIT) {
        bool has_limit;
        struct config_place at =
            document_place(l->d, s->title, r.has_above ? "above" : "below", &has_limit);
        if (!has_limit)
            messages_add(l->m, at, l->d->file,
                         "[%s] channel: has another unit than the limit that is there; give a "
                         "new limit as well",
                         s->title);
        r.deadband = 0;
    }
    read_entries(l, section, &r, rule_unit(&r), false);
    if (known) {
        *known = r;
        return true;
    }
    if (l->s->rule_count >= LOAD_RULES_MAX) {
        wrong_section(l, s, "is one rule too many");
        return true;
    }
    return rule_add(l->s, &r);
}

static bool read_hook(struct load *l, size_t section)
{
    const struct reader_section *s = &l->d->sections[section];
    if (!rule_name_is_good(s->name)) {
        wrong_section(l, s, "a hook's name is at most 39 letters, digits, '-', '_' or '.'");
        return true;
    }
    struct hook_setting *h = NULL;
    for (size_t i = 0; i < l->s->hook_count && !h; i++)
        if (strcmp(l->s->hooks[i].name, s->name) == 0)
            h = &l->s->hooks[i];
    if (!h && l->s->hook_count == HOOKS_MAX) {
        wrong_section(l, s, "is one hook too many");
        return true;
    }
    if (!h) {
        h = &l->s->hooks[l->s->hook_count++];
        *h = (struct hook_setting){0};
        text_copy(h->name, sizeof h->name, s->name);
        set_initial(s->schema, h, UNIT_NONE);
    }
    h->at = s->at;
    read_entries(l, section, h, UNIT_NONE, false);
    return true;
}

/* Takes the channel keys of a pane apart. */
static void read_pane_channels(struct load *l, const struct reader_section *s,
                               struct pane_setting *p)
{
    char text[sizeof p->channels], *save = NULL;
    text_copy(text, sizeof text, p->channels);
    p->count = 0;
    for (char *w = strtok_r(text, ", \t", &save); w; w = strtok_r(NULL, ", \t", &save)) {
        struct err e;
        char shown[CHANNEL_KEY_SIZE];
        text_clean(shown, sizeof shown, w, strlen(w));
        if (p->count == PANE_CHANNELS_MAX) {
            wrong_section(l, s, "has too many channels");
            return;
        }
        if (!value_parse_channel(w, &p->ids[p->count].id, &p->ids[p->count].any_place, &e))
            messages_add(l->m, s->at, l->d->file, "[%s] channels: %s", s->title, e.text);
        else
            p->count++;
    }
}

static bool read_pane(struct load *l, size_t section)
{
    const struct reader_section *s = &l->d->sections[section];
    struct pane_setting *p = NULL;
    for (size_t i = 0; i < l->s->pane_count && !p; i++)
        if (strcmp(l->s->panes[i].name, s->name) == 0)
            p = &l->s->panes[i];
    if (!p && l->s->pane_count == PANES_MAX) {
        wrong_section(l, s, "is one pane too many");
        return true;
    }
    if (!p) {
        p = &l->s->panes[l->s->pane_count++];
        *p = (struct pane_setting){.at = s->at};
        text_copy(p->name, sizeof p->name, s->name);
    }
    read_entries(l, section, p, UNIT_NONE, false);
    read_pane_channels(l, s, p);
    return true;
}

/* ---- `alarm above = 85 C` ---- */

/* The quantity's own limit that a shorthand takes hold, deadband and the rest from. */
static const struct rule_setting *model_for(const struct settings *s, struct channel_id id,
                                            struct schema_limit limit)
{
    const struct rule_setting *second = NULL;
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (r->kind != KIND_LIMIT || r->id.quantity != id.quantity || !r->any_place ||
            (limit.above ? !r->has_above : !r->has_below))
            continue;
        if (r->priority == limit.priority)
            return r;
        if (!second)
            second = r;
    }
    return second;
}

static struct rule_setting shorthand_rule(const struct settings *s, struct channel_id id,
                                          struct schema_limit limit)
{
    const struct rule_setting *model = model_for(s, id, limit);
    struct rule_setting r = {.kind = KIND_LIMIT};
    if (model) {
        r = *model;
    } else {
        set_initial(schema_find_section("limit"), &r, UNIT_NONE);
        r.hold_ns = 3 * NS_PER_S;
        r.deadband = quantity_info((enum quantity)id.quantity)->steady_per_min;
    }
    static const char *const words[] = {"caution", "warning", "alarm", "emergency"};
    char key[CHANNEL_KEY_SIZE];
    channel_id_format(key, sizeof key, id);
    text_format(r.name, sizeof r.name, "%s-%s-%s", key, words[limit.priority],
                limit.above ? "above" : "below");
    r.id = id;
    r.any_place = false;
    r.priority = limit.priority;
    r.per_12v = false;   /* the owner said the boat's own volts, */
    r.battery = FOR_ANY; /* of the boat's own batteries */
    r.system = 0;
    r.enabled = true;
    return r;
}

static bool read_shorthand(struct load *l, const struct reader_entry *e)
{
    const struct reader_section *section = &l->d->sections[e->section];
    struct channel_id id;
    struct err err;
    if (!value_parse_channel(section->name, &id, NULL, &err))
        return true; /* said with the section */
    const struct quantity_info *info = quantity_info((enum quantity)id.quantity);
    if (info->place == PLACE_PAIR && info->unit == UNIT_NONE) {
        err_set(&err, "a switch has no limits: write a [state] section");
        wrong(l, e, &err);
        return true;
    }
    struct schema_limit limit = schema_limit_of(e->key);
    struct rule_setting r = shorthand_rule(l->s, id, limit);
    r.at = e->at;
    double v = 0;
    bool given = strcmp(e->value, e->key->blank) != 0;
    if (given && !value_parse_quantity(e->value, info->unit, &v, &err)) {
        wrong(l, e, &err);
        return true;
    }
    r.enabled = given;
    if (given || !(limit.above ? r.has_above : r.has_below)) {
        r.above = limit.above ? v : 0;
        r.below = limit.above ? 0 : v;
    }
    r.has_above = limit.above;
    r.has_below = !limit.above;
    if (given) {
        /* A deadband that was meant for another limit must leave room to come back. */
        double room = limit.above ? v - info->lowest : info->highest - v;
        if (r.deadband > room / 2)
            r.deadband = room > 0 ? room / 2 : 0;
    }
    struct rule_setting *known = rule_find(l->s, KIND_LIMIT, r.name);
    if (known) {
        *known = r;
        return true;
    }
    return l->s->rule_count < LOAD_RULES_MAX ? rule_add(l->s, &r) != NULL : true;
}

/* ---- a whole file ---- */

/* Where each key was bound: that two clash is found later, by the screen. */
static void place_keys(struct load *l, size_t section)
{
    for (size_t i = 0; i < l->d->entry_count; i++) {
        const struct reader_entry *e = &l->d->entries[i];
        if (e->section == section)
            l->s->keys.at[e->key->offset / KEY_NAME_SIZE] = e->at;
    }
}

static bool read_section(struct load *l, size_t i)
{
    struct settings *s = l->s;
    void *targets[] = {[SCOPE_VESSEL] = s,          [SCOPE_UNITS] = &s->units,
                       [SCOPE_ALERTS] = &s->alerts, [SCOPE_PRECISION] = &s->precision,
                       [SCOPE_SCREEN] = &s->screen, [SCOPE_TRIAL] = &s->trial,
                       [SCOPE_FUEL] = &s->fuel};
    enum schema_scope scope = l->d->sections[i].schema->scope;
    switch (scope) {
    case SCOPE_ENGINE:
        read_engine(l, i);
        return true;
    case SCOPE_CHANNEL:
        return read_channel(l, i);
    case SCOPE_RULE:
        return read_rule(l, i);
    case SCOPE_HOOK:
        return read_hook(l, i);
    case SCOPE_PANE:
        return read_pane(l, i);
    case SCOPE_KEYS:
        read_entries(l, i, &s->keys, UNIT_NONE, false);
        place_keys(l, i);
        return true;
    default:
        read_entries(l, i, targets[scope], UNIT_NONE, false);
        return true;
    }
}

/* Lays one file over the settings. False when out of memory. */
static bool lay_over(struct settings *s, const char *name, const char *data, size_t len,
                     struct config_messages *m)
{
    if (!add_file(s, name))
        return false;
    struct document d;
    struct load l = {.s = s, .d = &d, .m = m, .file = (uint16_t)(s->file_count - 1)};
    bool ok = document_read(&d, l.file, s->files[l.file], data, len, m);
    for (size_t i = 0; ok && i < d.section_count; i++)
        ok = read_section(&l, i);
    /* after every rule is known, so that a shorthand follows the file's own limits */
    for (size_t i = 0; ok && i < d.entry_count; i++)
        if (d.entries[i].key->type == TYPE_LIMIT)
            ok = read_shorthand(&l, &d.entries[i]);
    if (ok)
        check_settings(&l);
    document_fini(&d);
    return ok;
}

/* The built-in defaults, or NULL when out of memory. */
static struct settings *new_settings(struct config_messages *m)
{
    struct settings *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    /* the shipped file holds every key of the sections that a boat has once */
    const char *text = config_builtin_text();
    if (!lay_over(s, builtin_name, text, strlen(text), m)) {
        settings_free(s);
        return NULL;
    }
    return s;
}

/* s with the messages in order, or NULL after freeing it where something was said. */
static struct settings *finish(struct settings *s, struct config_messages *m, bool faulty)
{
    if (s && messages_total(m) == 0)
        return s;
    if (s)
        messages_finish(m, s->files[s->file_count - 1]);
    if (faulty)
        return s;
    settings_free(s);
    return NULL;
}

static struct settings *read_bytes(const char *name, const char *data, size_t len, bool faulty,
                                   struct config_messages **messages)
{
    struct config_messages *m = *messages = messages_new();
    struct settings *s = m ? new_settings(m) : NULL;
    if (s && !lay_over(s, name, data, len, m)) {
        settings_free(s);
        s = NULL;
    }
    return s ? finish(s, m, faulty) : NULL;
}

struct settings *load_bytes(const char *name, const char *data, size_t len,
                            struct config_messages **messages)
{
    return read_bytes(name, data, len, false, messages);
}

struct settings *config_load_text(const char *name, const char *text,
                                  struct config_messages **messages)
{
    return load_bytes(name, text, strlen(text), messages);
}

/* The whole file in a block of its own; NULL with the reason. */
static char *read_file(const char *path, size_t *len, struct err *e)
{
    FILE *f = fopen(path, "rb");
    char *data = NULL;
    size_t cap = 0;
    *len = 0;
    while (f && !ferror(f) && !feof(f)) {
        if (*len == cap) {
            cap = cap ? cap * 2 : 16384;
            char *grown = cap <= FILE_BYTES_MAX ? realloc(data, cap) : NULL;
            if (!grown) {
                err_set(e, "larger than any configuration");
                fclose(f);
                free(data);
                return NULL;
            }
            data = grown;
        }
        *len += fread(data + *len, 1, cap - *len, f);
    }
    if (!f || ferror(f)) {
        err_set(e, "cannot be read: %s", strerror(errno));
        if (f)
            fclose(f);
        free(data);
        return NULL;
    }
    fclose(f);
    return data;
}

static struct settings *read_path(const char *path, bool faulty, struct config_messages **messages)
{
    size_t len;
    struct err e;
    char *data = read_file(path, &len, &e);
    if (!data) {
        char shown[200];
        text_clean(shown, sizeof shown, path, strlen(path));
        *messages = messages_new();
        if (*messages)
            messages_add(*messages, (struct config_place){0}, shown, "%s", e.text);
        return NULL;
    }
    struct settings *s = read_bytes(path, data, len, faulty, messages);
    free(data);
    return s;
}

struct settings *config_load(const char *path, struct config_messages **messages)
{
    if (path)
        return read_path(path, false, messages);
    struct config_messages *m = *messages = messages_new();
    return finish(m ? new_settings(m) : NULL, m, false);
}

struct settings *config_load_faulty(const char *path, struct config_messages **messages)
{
    return read_path(path, true, messages);
}
