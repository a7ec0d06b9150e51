/* A starting configuration from what the muster heard: every channel named once, with what was
 * seen beside it and what the owner must decide left as a comment. `config check` takes it as it
 * stands. */
#include "report/muster/inside.h"

#include "base/text.h"
#include "wire/name.h"

#include <string.h>

#include "base/banned.h"

/* A value of a key is held by the sender that a configuration should name; one of several senders
 * of it is not written twice. */
static bool is_written(const struct muster *m, const struct muster_value *v)
{
    const struct channel_setting *s = muster_setting(m, v->id);
    if ((v->ok == 0 && !v->sole) || (s != NULL && s->feed.quantity != QTY_NONE))
        return false;
    const struct muster_value *holder = muster_holder(m, v->id);
    if (holder != NULL)
        return holder == v;
    for (const struct muster_value *x = m->values; x < v; x++)
        if (channel_id_same(x->id, v->id))
            return false;
    return true;
}

static int other_senders(const struct muster *m, const struct muster_value *v)
{
    int n = 0;
    for (size_t i = 0; i < m->value_count; i++)
        n += channel_id_same(m->values[i].id, v->id) && m->values[i].sender != v->sender &&
             m->values[i].ok > 0;
    return n;
}

static void write_source(const struct muster *m, const struct muster_value *v, FILE *out)
{
    const struct muster_sender *s = &m->senders[v->sender];
    int others = other_senders(m, v);
    /* Naming the sender is a tie that may hurt; where several speak the owner must say which one is
     * meant: a guess would make an intruder the rightful one. */
    fputs("# source = ", out);
    if (m->iface_count > 1)
        fprintf(out, "%s:", muster_iface(m, s->iface));
    fprintf(out, "%u", s->address);
    if (others > 0)
        fprintf(out, "   # %d other sender%s of this key %s heard: choose", others,
                others == 1 ? "" : "s", others == 1 ? "was" : "were");
    fputs("\n", out);
}

static void write_exhaust(const struct muster *m, const struct muster_value *v, FILE *out)
{
    const char *kind = muster_exhaust_kind(m, v);
    if (strcmp(kind, "unsure") == 0)
        fputs("# sensor = dry   # stood above 150 C: dry gas, or no cooling water? decide\n", out);
    else
        fprintf(out, "%ssensor = %s\n", muster_setting(m, v->id) != NULL ? "" : "# ", kind);
    if (strcmp(kind, "dry") != 0)
        fputs("# alarm above = 93.3 C   # the hose and engine maker's figure goes here\n", out);
}

static void write_channel(const struct muster *m, const struct muster_value *v, FILE *out)
{
    char key[CHANNEL_KEY_SIZE], low[40], high[40];
    const struct quantity_info *info = quantity_info((enum quantity)v->id.quantity);
    channel_id_format(key, sizeof key, v->id);
    text_number(low, sizeof low, v->low, info->decimals);
    text_number(high, sizeof high, v->high, info->decimals);
    const char *unit = unit_text(info->unit);
    if (v->ok > 0)
        fprintf(out, "\n# heard between %s and %s%s%s\n", low, high, unit[0] != '\0' ? " " : "",
                unit);
    else
        fputs("\n# never available: is its sensor connected?\n", out);
    fprintf(out, "[channel %s]\nlabel = %s\n", key, info->label);
    write_source(m, v, out);
    if (v->id.quantity == QTY_EXHAUST)
        write_exhaust(m, v, out);
    if (v->id.quantity >= QTY_FUEL_TANK && v->id.quantity <= QTY_PETROL_TANK) {
        char litres[40];
        text_number(litres, sizeof litres, v->capacity_l, 0);
        if (v->capacity_l > 0.0)
            fprintf(out, "# capacity = %s L   # as its sender says\n", litres);
        else
            fputs("# capacity = 0 L   # its sender does not say: fill in\n", out);
    }
    if (v->id.quantity == QTY_BATTERY_VOLTS || v->id.quantity == QTY_ALTERNATOR)
        fprintf(out, "# nominal volts = %d V   # otherwise found from the voltage itself\n",
                v->high > 18.0 ? 24 : 12);
}

/* What the configuration in force makes of two meters stays. */
static void write_flows(const struct muster *m, FILE *out)
{
    for (size_t i = 0; m->settings != NULL && i < m->settings->channel_count; i++) {
        const struct channel_setting *s = &m->settings->channels[i];
        char key[CHANNEL_KEY_SIZE], feed[CHANNEL_KEY_SIZE], back[CHANNEL_KEY_SIZE];
        if (s->feed.quantity == QTY_NONE || s->returned.quantity == QTY_NONE)
            continue;
        channel_id_format(key, sizeof key, s->id);
        channel_id_format(feed, sizeof feed, s->feed);
        channel_id_format(back, sizeof back, s->returned);
        fprintf(out, "\n# the difference of two meters\n[channel %s]\nfeed = %s\nreturn = %s\n",
                key, feed, back);
    }
}

void muster_write_config(const struct muster *m, const char *title, FILE *out)
{
    int engines = 0;
    for (int e = 0; e < MUSTER_INSTANCES; e++)
        if (m->engines[e].seen && !muster_is_meters_alone(m, e))
            engines++;
    fprintf(out,
            "# A starting configuration, from the muster of %s.\n"
            "# Each channel that was heard is named once. What is certain is written; what you\n"
            "# must decide is a comment. Lay it over the defaults with -c; `stokehold config\n"
            "# check FILE` says what is wrong with it, `stokehold muster -c FILE` what is missing\n"
            "# aboard. Limits are in the defaults (`stokehold config print`): put the makers'\n"
            "# figures in their place.\n\n[vessel]\n# name =\n",
            title);
    if (engines > 0)
        fprintf(out, "engines = %d\n", engines);
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->id.quantity == QTY_SWITCH && v->high <= 0.0)
            continue; /* banks have places for switches that are not there */
        if (is_written(m, v))
            write_channel(m, v, out);
    }
    write_flows(m, out);
}
