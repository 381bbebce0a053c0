package season

import (
	"fmt"
	"slices"
	"time"

	"flitchbook/planner/unit"
)

// Chain is when a slab can be taken out of its bag, smoked and packed. Ready-about is
// the pack day.
type Chain struct {
	Seal     unit.Day // day 0
	Earliest unit.Day // the first day the cure allows
	Unbag    unit.Day
	Smoke    unit.Day
	Pack     unit.Day // ready about
	Latest   unit.Day // the last day to unbag
	Age      int      // days in cure on the unbag day
	Skipped  []Skip   // chains that a closed day ruled out
}

// Skip is a chain ruled out, and by what.
type Skip struct {
	Unbag unit.Day
	Why   string
}

// NoChain is the error when no chain fits before the last unbag day.
type NoChain struct {
	Seal, Earliest, Latest unit.Day
	Skipped                []Skip
}

func (e *NoChain) Error() string {
	if e.Earliest > e.Latest {
		return fmt.Sprintf("sealed %s, not to be unbagged before %s, which is past the last day %s", e.Seal.Show(), e.Earliest.Show(), e.Latest.Show())
	}
	why := ""
	for _, s := range e.Skipped {
		why += fmt.Sprintf("; %s: %s", s.Unbag.Show(), s.Why)
	}
	return fmt.Sprintf("sealed %s, no unbag day fits from %s to %s%s", e.Seal.Show(), e.Earliest.Show(), e.Latest.Show(), why)
}

// ReadyAbout finds the first chain for slabs sealed on a day. Cold is how long their
// room was too cold for the cure to work since then: every started 24 hours add a
// day. It returns *NoChain when nothing fits by the last unbag day.
func (r Rules) ReadyAbout(seal unit.Day, cold time.Duration, closed Closed) (Chain, error) {
	return r.ReadyFrom(0, seal, cold, closed)
}

// ReadyFrom is ReadyAbout for slabs that are not unbagged before a day, since a load
// has left them out.
func (r Rules) ReadyFrom(notBefore, seal unit.Day, cold time.Duration, closed Closed) (Chain, error) {
	c := Chain{Seal: seal, Earliest: r.earliest(seal, cold), Latest: seal + unit.Day(r.MaxCure)}
	for d := max(c.Earliest, notBefore); d <= c.Latest; d++ {
		if !slices.Contains(r.UnbagDays, d.Weekday()) {
			continue
		}
		if why := r.broken(d, closed); why != "" {
			c.Skipped = append(c.Skipped, Skip{d, why})
			continue
		}
		c.Unbag, c.Smoke, c.Pack, c.Age = d, d+1, d+2, int(d-seal)
		return c, nil
	}
	return Chain{}, &NoChain{seal, c.Earliest, c.Latest, c.Skipped}
}

func (r Rules) earliest(seal unit.Day, cold time.Duration) unit.Day {
	const day = 24 * time.Hour
	extra := (max(cold, 0) + day - 1) / day
	return seal + unit.Day(r.MinCure) + unit.Day(extra)
}

// broken says why the chain starting on unbag day d cannot be worked, or "".
func (r Rules) broken(d unit.Day, closed Closed) string {
	for i, step := range []string{"unbagging", "smoking", "packing"} {
		day := d + unit.Day(i)
		if closed.Has(day) {
			return fmt.Sprintf("closed on %s, the day of %s", day.Show(), step)
		}
		if len(r.WorkDays) > 0 && !slices.Contains(r.WorkDays, day.Weekday()) {
			return fmt.Sprintf("nobody works on %s, the day of %s", day.Show(), step)
		}
	}
	return ""
}

// LastBefore returns the last of the class days whose bacon is ready before a date:
// the class to book for a holiday breakfast. It reports false when none is.
func (r Rules) LastBefore(classDays []unit.Day, by unit.Day, closed Closed) (Chain, bool) {
	var best Chain
	for _, d := range classDays {
		if c, err := r.ReadyAbout(d, 0, closed); err == nil && c.Pack < by && c.Seal > best.Seal {
			best = c
		}
	}
	return best, best.Seal != 0
}
