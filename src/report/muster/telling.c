/* What a box says of itself beyond its NAME: lamps, its engine by its maker, trouble of before. */
#include "report/muster/inside.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

void muster_lamps(const struct muster_sender *s, char *dst, size_t cap)
{
    dst[0] = '\0';
    for (enum dm1_lamp i = 0; i < DM1_LAMPS; i++) {
        if (s->lamps.lamps[i] != LAMP_ON)
            continue;
        const char *flash = dm1_flash_text(&s->lamps, i);
        text_append(dst, cap, "%s%s%s%s", dst[0] ? ", " : "", dm1_lamp_text(i),
                    flash ? " flashing " : "", flash ? flash : "");
    }
}

static void add_figure(char *dst, size_t cap, const char *name, double v, const char *unit)
{
    char number[32];
    if (isfinite(v) && text_number(number, sizeof number, v, 0))
        text_append(dst, cap, "%s%s %s %s", dst[0] ? ", " : "", name, number, unit);
}

void muster_maker(const struct muster_sender *s, char *dst, size_t cap)
{
    const struct engine_maker *e = &s->maker;
    dst[0] = '\0';
    if (!s->has_maker)
        return;
    add_figure(dst, cap, "rated speed", e->rated_rpm, "rpm");
    add_figure(dst, cap, "idle", e->idle_rpm, "rpm");
    add_figure(dst, cap, "high idle", e->high_idle_rpm, "rpm");
    add_figure(dst, cap, "reference torque", e->torque_nm, "Nm");
    if (e->vin[0])
        text_append(dst, cap, "%sVIN %s", dst[0] ? ", " : "", e->vin);
    if (e->software[0])
        text_append(dst, cap, "%ssoftware %s", dst[0] ? ", " : "", e->software);
}

void muster_earlier(const struct muster_sender *s, char *dst, size_t cap)
{
    dst[0] = '\0';
    if (s->earlier_codes == 0)
        return;
    const char *words = s->earlier.old_form ? NULL : dm1_spn_text(s->earlier.spn);
    text_format(dst, cap, "%d trouble code%s from before, first SPN %lu%s%s: %s", s->earlier_codes,
                s->earlier_codes == 1 ? "" : "s", (unsigned long)s->earlier.spn, words ? " " : "",
                words ? words : "", dm1_fmi_text(s->earlier.fmi));
    if (s->earlier.count == 1)
        text_append(dst, cap, ", once");
    else if (s->earlier.count < 127)
        text_append(dst, cap, ", %u times", s->earlier.count);
}
