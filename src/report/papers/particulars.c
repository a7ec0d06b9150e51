#include "report/papers/particulars.h"

#include "base/text.h"

#include "report/papers/lines.h"

#include <string.h>

#include "base/banned.h"

static const struct {
    const char *key, *title, *help;
    bool many;
} kinds[] = {
    {"vessel", "Vessel", "name, type, official number", false},
    {"hull", "Hull", "builder, hull number, length, beam", false},
    {"engines", "Engines", "make, model, rated power, one line each", true},
    {"serials", "Serial numbers", "of engines and gearboxes", true},
    {"propellers", "Propellers", "diameter, pitch, blades", true},
    {"place", "Place", "where the trial was sailed", false},
    {"date", "Date", "the day", false},
    {"people", "People", "role and name, one line each", true},
    {"sea state", "Sea state", "height of the waves, or the Douglas scale", false},
    {"wind", "Wind", "force and direction", false},
    {"depth", "Depth", "of the water, least", false},
    {"draft", "Draft", "forward and aft, measured", false},
    {"displacement", "Displacement", "and how it is known", false},
    {"trim", "Trim", "at rest, and tabs under way", false},
    {"fuel aboard", "Fuel aboard", "at the start, by the stick", false},
    {"load", "Load", "people, water, stores", false},
    {"bottom", "Bottom and propellers", "when last cleaned", false},
    {"instrument", "Instruments", "each with its last check", true},
    {"remark", "Remarks", "one line each", true},
    {"signature", "Signatures", "role and name of who is to sign, one line each", true},
};
#define KINDS (int)(sizeof kinds / sizeof kinds[0])

const char *particulars_title(int kind)
{
    return kind >= 0 && kind < KINDS ? kinds[kind].title : NULL;
}

static int kind_of(const char *key)
{
    for (int i = 0; i < KINDS; i++)
        if (strcmp(kinds[i].key, key) == 0)
            return i;
    return -1;
}

static const char *take_line(void *ctx, char *text)
{
    struct particulars *p = ctx;
    char *equals = strchr(text, '='), *value;
    int kind;

    if (equals == NULL)
        return "not `key = value`";
    *equals = '\0';
    kind = kind_of(lines_trim(text));
    value = lines_trim(equals + 1);
    if (kind < 0)
        return "no such key: `trial --write-particulars` writes all there are";
    if (value[0] == '\0')
        return NULL; /* not filled in */
    for (int i = 0; i < p->lines; i++)
        if (p->line[i].kind == kind && !kinds[kind].many)
            return "given twice";
    if (p->lines == PARTICULARS_LINES)
        return "too many lines";
    p->line[p->lines].kind = kind;
    text_clean(p->line[p->lines].text, sizeof p->line[0].text, value, strlen(value));
    p->lines++;
    return NULL;
}

/* Stable: lines of one kind stay in the order of the file. */
static void sort(struct particulars *p)
{
    for (int i = 1; i < p->lines; i++) {
        struct particular one = p->line[i];
        int k = i;

        for (; k > 0 && p->line[k - 1].kind > one.kind; k--)
            p->line[k] = p->line[k - 1];
        p->line[k] = one;
    }
}

static const struct lines_kind file = {
    .name = "particulars",
    .version = 1,
    .about =
        "# Particulars of a sea trial, for `stokehold trial --particulars FILE`. Fill in what is\n"
        "# known; what stays empty is left out. Lines marked + may be repeated.\n",
    .take = take_line};

bool particulars_read(const char *path, struct particulars *p, struct err *e)
{
    bool good;

    *p = (struct particulars){0};
    good = lines_read(path, &file, p, e);
    sort(p);
    return good;
}

void particulars_begin(FILE *out, const char *vessel)
{
    lines_begin(out, &file);
    for (int i = 0; i < KINDS; i++)
        fprintf(out, "\n# %s%s\n%s =%s%s\n", kinds[i].help, kinds[i].many ? " +" : "", kinds[i].key,
                i == 0 && vessel[0] ? " " : "", i == 0 ? vessel : "");
}
