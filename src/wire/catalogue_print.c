#include "wire/catalogue.h"

#include "base/text.h"

#include "base/banned.h"

static const struct {
    const char *text;
    enum unit base;
} sent_units[SENT_COUNT] = {
    [SENT_NONE] = {"", UNIT_NONE},
    [SENT_RPM] = {"rpm", UNIT_RPM},
    [SENT_K] = {"K", UNIT_C},
    [SENT_C] = {"°C", UNIT_C},
    [SENT_PA] = {"Pa", UNIT_KPA},
    [SENT_KPA] = {"kPa", UNIT_KPA},
    [SENT_V] = {"V", UNIT_V},
    [SENT_A] = {"A", UNIT_A},
    [SENT_PERCENT] = {"%", UNIT_PERCENT},
    [SENT_S] = {"s", UNIT_NONE},
    [SENT_RUN_S] = {"s", UNIT_H},
    [SENT_H] = {"h", UNIT_H},
    [SENT_L] = {"L", UNIT_L},
    [SENT_LPH] = {"L/h", UNIT_LPH},
    [SENT_MPS] = {"m/s", UNIT_KN},
    [SENT_RAD] = {"rad", UNIT_NONE},
    [SENT_DAY] = {"day", UNIT_NONE},
    [SENT_AH] = {"Ah", UNIT_AH},
    [SENT_MIN] = {"min", UNIT_NONE},
    [SENT_KM_PER_L] = {"km/L", UNIT_NONE},
    [SENT_REV] = {"rev", UNIT_NONE},
    [SENT_HZ] = {"Hz", UNIT_HZ},
    [SENT_W] = {"W", UNIT_WATT},
    [SENT_VA] = {"VA", UNIT_NONE},
    [SENT_VAR] = {"var", UNIT_NONE},
    [SENT_KWH] = {"kWh", UNIT_NONE},
    [SENT_NM] = {"Nm", UNIT_NONE},
    [SENT_KGPH] = {"kg/h", UNIT_NONE},
    [SENT_PERCENT_PER_RPM] = {"%/rpm", UNIT_NONE},
    [SENT_KGM2] = {"kgm2", UNIT_NONE},
};

const char *sent_unit_text(enum sent_unit u)
{
    return sent_units[(unsigned)u < SENT_COUNT ? u : SENT_NONE].text;
}

enum unit sent_unit_base(enum sent_unit u)
{
    return sent_units[(unsigned)u < SENT_COUNT ? u : SENT_NONE].base;
}

void catalogue_range(const struct field_info *f, double *low, double *high)
{
    double raw_low = 0.0, raw_high = 1.0;
    if (f->bits > 1 && f->bits <= 56) {
        uint64_t top = (UINT64_C(1) << (f->is_signed ? f->bits - 1 : f->bits)) - 1;
        uint64_t codes = f->family != FAMILY_IEC ? 1 : f->bits >= 8 ? 3 : 2;
        if (f->family == FAMILY_J1939)
            codes = f->bits < 8 ? 2 : UINT64_C(5) << (f->bits - 8); /* FB to FF above */
        raw_high = (double)(top - codes);
        raw_low = f->is_signed ? -(double)(top + 1) : 0.0;
    }
    double a = raw_low * f->gain + f->zero, b = raw_high * f->gain + f->zero;
    *low = a < b ? a : b;
    *high = a < b ? b : a;
}

static void print_number(FILE *out, double v, int decimals)
{
    char text[40];
    size_t n = text_number(text, sizeof text, v, decimals);
    while (decimals > 0 && n > 1 && text[n - 1] == '0')
        text[--n] = '\0';
    if (n > 1 && text[n - 1] == '.')
        text[n - 1] = '\0';
    fputs(text, out);
}

/* Where the field is, counting bytes and bits from 1 as the standards do. */
static void print_position(FILE *out, const struct field_info *f)
{
    unsigned times = f->repeat > 1 ? f->repeat : 1;
    unsigned bits = f->stride != 0 ? f->bits : f->bits * times;
    unsigned first = f->bit / 8 + 1, last = (f->bit + bits - 1) / 8 + 1;
    fprintf(out, first == last ? "%u" : "%u-%u", first, last);
    if (f->bit % 8 != 0 || bits % 8 != 0)
        fprintf(out, ", bit %u-%u", f->bit % 8 + 1, (f->bit + bits - 1) % 8 + 1);
    if (f->stride != 0)
        fprintf(out, ", up to %u times, every %u bytes", times, f->stride / 8U);
    else if (times > 1)
        fprintf(out, ", %u times %u bits", times, f->bits);
}

static void print_place(FILE *out, const struct place_rule *r, const char *what)
{
    switch (r->how) {
    case AT_FIXED:
        fprintf(out, ".%u", r->n);
        break;
    case AT_GENERATOR:
        fputs(".GENERATOR", out);
        break;
    case AT_ENGINE:
    case AT_GEARBOX:
        fputs(".ENGINE", out);
        break;
    case AT_BITS:
    case AT_COUNTED:
    case AT_EACH:
        fprintf(out, ".%s", what);
        break;
    default:
        break;
    }
}

static void print_channel(FILE *out, const struct field_info *f)
{
    const struct quantity_choice *c = &f->choice;
    if (f->is_capacity)
        fputs("(capacity of the tank)", out);
    for (unsigned i = 0; i < (c->count != 0 ? c->count : 1U); i++) {
        unsigned q = c->count != 0 ? c->quantities[i] : f->quantity;
        if (q == QTY_NONE)
            continue;
        fputs(i > 0 ? ", `" : "`", out);
        fputs(quantity_info(q)->key, out);
        print_place(out, &f->place, q == QTY_SWITCH ? "BANK" : q == QTY_PRESSURE ? "SOURCE" : "N");
        print_place(out, &f->sub, f->sub.how == AT_EACH ? "LINE" : "N");
        fputs("`", out);
        if (c->count != 0)
            fprintf(out, " (%u)", i);
    }
    if (f->rank != 0)
        fputs(", fills in", out);
}

static void print_field(FILE *out, const struct field_info *f)
{
    fputs("| ", out);
    print_position(out, f);
    fprintf(out, " | %s", f->name);
    if (f->spn != 0)
        fprintf(out, " (SPN %u)", f->spn);
    fputs(" | ", out);
    if (f->family == FAMILY_TEXT)
        fputs("text or data", out);
    else if (f->family == FAMILY_BITS)
        fputs("bits", out);
    else if (f->scale == 0.0)
        fputs("code", out);
    else {
        if (f->is_signed)
            fputs("signed, ", out);
        print_number(out, f->scale, 9);
        if (sent_unit_text(f->sent)[0] != '\0')
            fprintf(out, " %s", sent_unit_text(f->sent));
        if (f->offset != 0.0) {
            fputs(f->offset < 0 ? " " : " +", out);
            print_number(out, f->offset, 9);
        }
    }
    fputs(" | ", out);
    if (f->quantity != QTY_NONE || f->choice.count != 0) {
        double low, high;
        catalogue_range(f, &low, &high);
        print_number(out, low, f->decimals);
        fputs(" to ", out);
        print_number(out, high, f->decimals);
        const char *unit = unit_text(sent_unit_base(f->sent));
        fprintf(out, "%s%s", unit[0] != '\0' ? " " : "", unit);
    }
    fputs(" | ", out);
    print_channel(out, f);
    fputs(" |\n", out);
}

static void print_summary(FILE *out, const struct pgn_info *row)
{
    static const char *const kinds[] = {"single frame", "fast packet", "transport protocol"};
    fprintf(out, "| [%u](#pgn-%u) | %s | %u | ", row->pgn, row->pgn, row->name, row->priority);
    if (row->period_ms == 0)
        fputs("when asked or changed", out);
    else
        fprintf(out, "%u ms", row->period_ms);
    bool longer = row->kind == PGN_SINGLE && row->length > 8;
    fprintf(out, " | %s | ", kinds[longer ? PGN_TRANSPORT : row->kind]);
    if (row->length == 0)
        fputs("varies", out);
    else
        fprintf(out, "%u", row->length);
    fputs(" |\n", out);
}

void catalogue_print_markdown(FILE *out)
{
    fputs(
        "# Messages\n\n"
        "What stokehold reads from the bus, printed from the tables in `src/wire/catalogue_*.c`\n"
        "(`make docs/messages.md` makes this page again). Bytes and bits count from 1; within a\n"
        "message the low byte comes first. Codes for *not available*, *error* and *reserved* are\n"
        "never numbers (`src/wire/catalogue.h` has the rule of each family). ENGINE is the\n"
        "sender's address: 0 is engine 0, 1 is engine 1; for gearboxes 3 and 4 are as well.\n"
        "GENERATOR is the same, and 0 for all other addresses. A channel that *fills in* is used\n"
        "only where its rightful message is not heard.\n\n"
        "| PGN | message | priority | period | sent as | bytes |\n"
        "|---|---|---|---|---|---|\n",
        out);
    for (size_t i = 0; i < catalogue_count(); i++)
        print_summary(out, catalogue_row(i));
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        fprintf(out, "\n## PGN %u\n\n%s\n\n", row->pgn, row->name);
        fputs("| byte | field | step | range | channel |\n|---|---|---|---|---|\n", out);
        for (const struct field_info *f = row->fields, *end = f + row->field_count; f < end; f++)
            print_field(out, f);
    }
}
