/* Steps as CSV: base units. */
#include "report/trial/write.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

static void field(FILE *out, const struct trial_stat *s, int decimals, bool high)
{
    fputc(',', out);
    trial_put(out, s->n > 0 ? high ? s->high : s->mean : NAN, decimals, 0, "");
}

void trial_write_csv(FILE *out, const struct trial_report *r)
{
    fputs("step,log,time,seconds,settle_s,course_deg,speed_ground_kn,speed_water_kn,"
          "engine_space_c,outside_air_c,sea_c,engine,rpm,fuel_rate_lph,load_pc,torque_pc,"
          "exhaust_c,exhaust_high_c,exhaust_gas_c,coolant_c,oil_temp_c,oil_pressure_kpa,boost_kpa,"
          "alternator_v\n",
          out);
    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];

        for (int e = 0; e < TRIAL_ENGINES; e++) {
            const struct trial_engine *m = &s->engine[e];
            char when[40];

            if (!(s->engines & 1u << e))
                continue;
            when_epoch(when, sizeof when, s->wall_ns);
            fprintf(out, "%d,%d,%s,", i + 1, s->log + 1, when);
            trial_put(out, s->seconds, 0, 0, "");
            fputc(',', out);
            trial_put(out, s->settle_s, 0, 0, "");
            fputc(',', out);
            trial_put(out, s->has_course ? s->course_deg : NAN, 1, 0, "");
            field(out, &s->speed_ground, 3, false);
            field(out, &s->speed_water, 3, false);
            field(out, &s->space, 2, false);
            field(out, &s->air, 2, false);
            field(out, &s->sea, 2, false);
            fprintf(out, ",%d", e);
            field(out, &m->rpm, 1, false);
            field(out, &m->fuel_rate, 2, false);
            field(out, &m->load, 1, false);
            field(out, &m->torque, 1, false);
            field(out, &m->exhaust, 2, false);
            field(out, &m->exhaust, 2, true);
            field(out, &m->exhaust_gas, 2, false);
            field(out, &m->coolant, 2, false);
            field(out, &m->oil_temp, 2, false);
            field(out, &m->oil_pressure, 1, false);
            field(out, &m->boost, 1, false);
            field(out, &m->alternator, 2, false);
            fputc('\n', out);
        }
    }
}
