#include "hooks/lines.h"

#include "base/text.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void put(struct line *l, const char *s, size_t len)
{
    if (l->len + len + 2 > LINE_SIZE) {
        l->overflow = true;
        return;
    }
    memcpy(l->text + l->len, s, len);
    l->len += len;
    l->text[l->len] = '\0';
}

void line_begin(struct line *l, const char *word)
{
    l->len = 0;
    l->overflow = false;
    put(l, word, strlen(word));
}

void line_text(struct line *l, const char *value)
{
    char clean[ALERT_TEXT_SIZE + 96];
    text_clean(clean, sizeof clean, value, strlen(value));
    put(l, "\t", 1);
    put(l, clean, strlen(clean));
}

void line_integer(struct line *l, int64_t value)
{
    char number[32];
    text_format(number, sizeof number, "\t%lld", (long long)value);
    put(l, number, strlen(number));
}

void line_number(struct line *l, double value)
{
    char number[48] = "\t";
    double size = fabs(value);
    int decimals = 9;
    for (double most = 1; decimals > 0 && size >= most; most *= 10)
        decimals--;
    size_t n = isfinite(value) ? text_number(number + 1, sizeof number - 1, value, decimals) : 0;
    if (n == 0)
        text_copy(number, sizeof number, "\t-");
    else if (strchr(number, '.'))
        while (number[n] == '0' || number[n] == '.') {
            bool point = number[n] == '.';
            number[n--] = '\0';
            if (point)
                break;
        }
    put(l, number, strlen(number));
}

void line_end(struct line *l)
{
    if (l->overflow) {
        l->len = 0;
        l->text[0] = '\0';
        return;
    }
    l->text[l->len++] = '\n';
    l->text[l->len] = '\0';
}

void fields_begin(struct fields *f, char *line)
{
    f->at = line;
    f->bad = false;
}

const char *fields_text(struct fields *f)
{
    if (!f->at) {
        f->bad = true;
        return "";
    }
    char *field = f->at, *tab = strchr(field, '\t');
    if (tab)
        *tab = '\0';
    f->at = tab ? tab + 1 : NULL;
    return field;
}

int64_t fields_integer(struct fields *f, int64_t low, int64_t high)
{
    const char *s = fields_text(f);
    char *end;
    errno = 0;
    long long v = strtoll(s, &end, 10);
    if (end == s || *end || errno || v < low || v > high) {
        f->bad = true;
        return low;
    }
    return v;
}

double fields_number(struct fields *f)
{
    const char *s = fields_text(f);
    double v;
    if (strcmp(s, "-") == 0)
        return NAN;
    if (!text_to_double(s, &v)) {
        f->bad = true;
        return NAN;
    }
    return v;
}

static void put_stamp(struct line *l, struct stamp t)
{
    line_integer(l, t.wall_ns);
    line_integer(l, t.mono_ns);
}

void line_alert(struct line *l, const char *word, const struct alert *a)
{
    const struct alert_figures *f = &a->figures;
    line_begin(l, word);
    line_integer(l, a->id);
    line_integer(l, a->situation.group);
    line_integer(l, a->situation.iface);
    line_integer(l, a->situation.source);
    line_integer(l, a->situation.id.quantity);
    line_integer(l, a->situation.id.place);
    line_integer(l, a->situation.id.sub);
    line_integer(l, a->situation.code);
    line_integer(l, a->kind);
    line_integer(l, a->priority);
    line_integer(l, a->state);
    line_integer(l, a->active);
    line_integer(l, a->repeats);
    line_integer(l, a->unit);
    line_integer(l, a->decimals);
    put_stamp(l, a->raised);
    put_stamp(l, a->changed);
    put_stamp(l, a->rectified);
    put_stamp(l, a->acknowledged);
    line_integer(l, a->silent_until_ns);
    line_number(l, a->value);
    line_number(l, f->value);
    line_number(l, f->expected);
    line_number(l, f->allowance);
    line_number(l, f->noise);
    line_number(l, f->statistic);
    line_number(l, f->threshold);
    line_number(l, f->rate_per_min);
    line_number(l, f->seconds_to_limit);
    line_number(l, f->limit);
    line_text(l, a->rule);
    line_text(l, a->channel);
    line_text(l, a->text);
    /* What came later: a reader of an older line does without. */
    line_integer(l, a->trouble);
    line_integer(l, a->stage);
    line_integer(l, a->engine);
    line_integer(l, a->worse);
    line_number(l, a->worst);
    put_stamp(l, a->worst_at);
    put_stamp(l, a->limit_passed);
    line_integer(l, a->beyond_ns);
    put_stamp(l, a->stopped);
    put_stamp(l, a->first);
    line_text(l, a->what);
    line_text(l, a->action);
    line_integer(l, a->steps);
    line_integer(l, a->already);
    line_end(l);
}

static struct stamp get_stamp(struct fields *f)
{
    struct stamp t;
    t.wall_ns = fields_integer(f, -LINE_TIME_MOST, LINE_TIME_MOST);
    t.mono_ns = fields_integer(f, -LINE_TIME_MOST, LINE_TIME_MOST);
    return t;
}

static void get_text(struct fields *f, char *dst, size_t cap)
{
    const char *s = fields_text(f);
    text_clean(dst, cap, s, strlen(s));
}

static void get_story(struct fields *f, struct alert *a)
{
    a->trouble = (enum trouble)fields_integer(f, 0, TROUBLE_COUNT - 1);
    a->stage = (enum alert_stage)fields_integer(f, 0, STAGE_OVER);
    a->engine = (int)fields_integer(f, ALERT_ALL_ENGINES, ALERT_ENGINES);
    a->worse = (int8_t)fields_integer(f, -1, 1);
    a->worst = fields_number(f);
    a->worst_at = get_stamp(f);
    a->limit_passed = get_stamp(f);
    a->beyond_ns = fields_integer(f, 0, LINE_TIME_MOST);
    a->stopped = get_stamp(f);
    a->first = get_stamp(f);
    get_text(f, a->what, sizeof a->what);
    get_text(f, a->action, sizeof a->action);
    a->steps = f->at ? (enum trouble)fields_integer(f, 0, TROUBLE_COUNT - 1) : a->trouble;
    a->already = f->at && fields_integer(f, 0, 1) != 0;
}

bool fields_alert(struct fields *f, struct alert *a)
{
    *a = (struct alert){.id = (uint32_t)fields_integer(f, 1, UINT32_MAX)};
    a->situation.group = (uint8_t)fields_integer(f, 0, SITUATION_SEASON);
    a->situation.iface = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    a->situation.source = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    a->situation.id.quantity = (uint16_t)fields_integer(f, 0, QTY_COUNT - 1);
    a->situation.id.place = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    a->situation.id.sub = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    a->situation.code = (uint32_t)fields_integer(f, 0, UINT32_MAX);
    a->kind = (enum rule_kind)fields_integer(f, 0, KIND_COUNT - 1);
    a->priority = (enum priority)fields_integer(f, 0, PRIORITY_EMERGENCY);
    a->state = (enum alert_state)fields_integer(f, 0, ALERT_RECTIFIED);
    a->active = fields_integer(f, 0, 1) != 0;
    a->repeats = (uint32_t)fields_integer(f, 0, UINT32_MAX);
    a->unit = (enum unit)fields_integer(f, 0, UNIT_COUNT - 1);
    a->decimals = (int)fields_integer(f, 0, 9);
    a->raised = get_stamp(f);
    a->changed = get_stamp(f);
    a->rectified = get_stamp(f);
    a->acknowledged = get_stamp(f);
    a->silent_until_ns = fields_integer(f, -LINE_TIME_MOST, LINE_TIME_MOST);
    a->value = fields_number(f);
    a->figures.value = fields_number(f);
    a->figures.expected = fields_number(f);
    a->figures.allowance = fields_number(f);
    a->figures.noise = fields_number(f);
    a->figures.statistic = fields_number(f);
    a->figures.threshold = fields_number(f);
    a->figures.rate_per_min = fields_number(f);
    a->figures.seconds_to_limit = fields_number(f);
    a->figures.limit = fields_number(f);
    get_text(f, a->rule, sizeof a->rule);
    get_text(f, a->channel, sizeof a->channel);
    get_text(f, a->text, sizeof a->text);
    a->worst = NAN;
    if (f->at)
        get_story(f, a);
    return !f->bad && !f->at;
}
