package heat

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"flitchbook/planner/unit"
)

// A Reading is one temperature of one room.
type Reading struct {
	At   unit.Instant
	Temp unit.Temp
}

// ColdRule is a shop's rule for a cold room.
type ColdRule struct {
	Warm    unit.Temp     // above it a reading is noted
	Longest time.Duration // a run above Warm may last this long, first to last
	Never   unit.Temp     // above it a hold opens at once
	Gap     time.Duration // longer without a reading is a gap
	Stall   unit.Temp     // below it cure stalls
}

// HouseCold is the rule the shop starts with. 41 °F is the Food Code's (3-501.16);
// the rest are house rules.
func HouseCold() ColdRule {
	return ColdRule{Warm: 41 * unit.Fahrenheit, Longest: 2 * time.Hour, Never: 45 * unit.Fahrenheit,
		Gap: time.Hour, Stall: 34 * unit.Fahrenheit}
}

// A Run is readings above the rule's Warm with none at or below between them.
type Run struct {
	First, Last unit.Instant
	Readings    int
	Peak        unit.Temp
	PeakAt      unit.Instant // first time at the peak
	Hold        *Hold        // nil: noted only
}

// Lasted is the elapsed time from the run's first reading to its last.
func (r Run) Lasted() time.Duration { return r.Last.Sub(r.First) }

// A Hold opens at the reading that breaks the limit.
type Hold struct {
	At     unit.Instant
	Reason string
}

// A Gap is a stretch without readings.
type Gap struct{ From, To unit.Instant }

// Lasted is the gap's length.
func (g Gap) Lasted() time.Duration { return g.To.Sub(g.From) }

// An Account is what a stretch of log shows.
type Account struct {
	Runs []Run
	Gaps []Gap
}

// Holds lists the holds in order of time.
func (a Account) Holds() []Hold {
	var out []Hold
	for _, r := range a.Runs {
		if r.Hold != nil {
			out = append(out, *r.Hold)
		}
	}
	return out
}

// Cold reads a room's log. The order of the readings does not matter. from and to
// bound the stretch that should have readings, so that a probe silent at either end
// shows as a gap; either may be never. Readings outside them still count.
func Cold(rule ColdRule, readings []Reading, from, to unit.Instant) Account {
	log := inOrder(readings)
	var a Account
	var run *Run
	for _, r := range log {
		if r.Temp <= rule.Warm {
			run = nil
			continue
		}
		if run == nil {
			a.Runs = append(a.Runs, Run{First: r.At, Peak: r.Temp, PeakAt: r.At})
			run = &a.Runs[len(a.Runs)-1]
		}
		run.Last = r.At
		run.Readings++
		if r.Temp > run.Peak {
			run.Peak, run.PeakAt = r.Temp, r.At
		}
		if run.Hold != nil {
			continue
		}
		switch {
		case r.Temp > rule.Never:
			run.Hold = &Hold{r.At, fmt.Sprintf("%s, above %s", show(r.Temp, rule.Never), rule.Never)}
		case run.Lasted() > rule.Longest:
			run.Hold = &Hold{r.At, fmt.Sprintf("above %s for %s, more than %s (now %s)",
				rule.Warm, clock(run.Lasted()), clock(rule.Longest), show(r.Temp, rule.Warm))}
		}
	}
	a.Gaps = gaps(rule, log, from, to)
	return a
}

// inOrder sorts a copy by time; two readings of one instant are put warmer first, so
// that a cooler twin cannot split a run.
func inOrder(readings []Reading) []Reading {
	log := slices.Clone(readings)
	slices.SortFunc(log, func(a, b Reading) int { return cmp.Or(cmp.Compare(a.At, b.At), -cmp.Compare(a.Temp, b.Temp)) })
	return slices.CompactFunc(log, func(a, b Reading) bool { return a.At == b.At })
}

func gaps(rule ColdRule, log []Reading, from, to unit.Instant) []Gap {
	var out []Gap
	last := from
	for _, r := range log {
		if !last.IsZero() && r.At.Sub(last) > rule.Gap {
			out = append(out, Gap{last, r.At})
		}
		last = max(last, r.At)
	}
	if !last.IsZero() && !to.IsZero() && to.Sub(last) > rule.Gap {
		out = append(out, Gap{last, to})
	}
	return out
}

// ColdTime is the elapsed time between from and to that the room was below the
// rule's Stall. A reading stands until the next. A gap counts as cold when either of
// its ends is, for a day too many in the bag does less harm than one too few.
func ColdTime(rule ColdRule, readings []Reading, from, to unit.Instant) time.Duration {
	var cold time.Duration
	for _, s := range ColdSpells(rule, readings, from, to) {
		cold += s.To.Sub(s.From)
	}
	return cold
}

// A Spell is a stretch of time.
type Spell struct{ From, To unit.Instant }

// ColdSpells are the stretches ColdTime adds up.
func ColdSpells(rule ColdRule, readings []Reading, from, to unit.Instant) []Spell {
	log := inOrder(readings)
	var out []Spell
	for i, r := range log {
		end := to
		if i+1 < len(log) {
			end = log[i+1].At
		}
		stalled := r.Temp < rule.Stall
		if i+1 < len(log) && end.Sub(r.At) > rule.Gap {
			stalled = stalled || log[i+1].Temp < rule.Stall
		}
		a, b := max(r.At, from), min(end, to)
		switch {
		case !stalled || b <= a:
		case len(out) > 0 && out[len(out)-1].To == a:
			out[len(out)-1].To = b
		default:
			out = append(out, Spell{a, b})
		}
	}
	return out
}

// show writes a temperature to a tenth, or exactly where that would read as the limit.
func show(t, limit unit.Temp) string {
	if t.Show() == limit.Show() {
		return t.String()
	}
	return t.Show()
}

// clock writes a length of time as "2 h 15 min".
func clock(d time.Duration) string {
	h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
	s := fmt.Sprintf("%d h", h)
	if m > 0 {
		s += fmt.Sprintf(" %d min", m)
	}
	if sec := int(d % time.Minute / time.Second); sec > 0 {
		s += fmt.Sprintf(" %d s", sec)
	}
	return s
}
