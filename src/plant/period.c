#include "plant/period.h"

#include "base/when.h"

#include "base/banned.h"

/* Two equal messages closer than this are one, sent or logged twice: the fastest standard period
 * is 10 ms (J1939 61444 at speed). */
#define DOUBLED_NS   (5 * NS_PER_MS)
#define PATIENCE_MIN (2 * NS_PER_S)
#define PATIENCE_NEW (60 * NS_PER_S)

static int64_t median_of_three(const int64_t v[3])
{
    int64_t a = v[0], b = v[1], c = v[2];
    if ((a <= b) == (b <= c))
        return b;
    return (b <= a) == (a <= c) ? a : c;
}

/* Two intervals say little: the longer, where one may be a doubled message, else their mean. */
static void learn_early(struct period *p, int64_t dt_ns)
{
    p->early_ns[p->early++] = dt_ns;
    if (p->early == 2) {
        int64_t a = p->early_ns[0], b = p->early_ns[1];
        int64_t longer = a > b ? a : b, shorter = a > b ? b : a;
        p->estimate_ns = shorter < longer / 4 ? longer : (a + b) / 2;
    } else if (p->early == 3) {
        p->estimate_ns = median_of_three(p->early_ns);
    }
}

void period_heard(struct period *p, int64_t t_ns, uint32_t pgn)
{
    if (pgn != p->pgn && p->going && t_ns - p->counted_ns <= period_patience(p))
        return;
    if (pgn != p->pgn) {
        bool first = p->pgn == 0;
        *p = (struct period){.pgn = pgn, .estimate_ns = first ? 0 : p->estimate_ns};
    }
    if (!p->going) {
        p->going = true;
        p->counted_ns = t_ns;
        return;
    }
    int64_t dt_ns = t_ns - p->counted_ns;
    if (dt_ns < DOUBLED_NS || (p->early == 3 && dt_ns < p->estimate_ns / 4))
        return;
    p->counted_ns = t_ns;
    if (p->early < 3) {
        learn_early(p, dt_ns);
        return;
    }
    if (dt_ns > 3 * p->estimate_ns) {
        if (p->late_ns > 0)
            p->estimate_ns = dt_ns < p->late_ns ? dt_ns : p->late_ns;
        p->late_ns = p->late_ns > 0 ? 0 : dt_ns;
        return;
    }
    p->late_ns = 0;
    int64_t most = p->estimate_ns / 8, move = (dt_ns - p->estimate_ns) / 4;
    p->estimate_ns += move > most ? most : move < -most ? -most : move;
}

void period_pause(struct period *p)
{
    p->going = false;
}

int64_t period_patience(const struct period *p)
{
    if (p->estimate_ns == 0)
        return PATIENCE_NEW;
    int64_t three = 3 * p->estimate_ns;
    return three > PATIENCE_MIN ? three : PATIENCE_MIN;
}
