package inspection

import (
	"slices"

	"flitchbook/planner/unit"
)

// GrindEvent is one thing that happened at the grinder: it was cleaned, or meat of some
// sources went through it.
type GrindEvent struct {
	At      unit.Instant
	Cleaned bool
	Sources []string // supplier lots; none when it was cleaned
}

// GrindLot is meat that is traced together.
type GrindLot struct {
	From    unit.Instant
	Sources []string // fed in, sorted
	Carried []string // from the lots before it, since the last cleaning; sorted
}

// GrindLots parts events, given in order of time, into lots: a cleaning or a change of
// sources begins a new one, and only a cleaning ends what is carried over from the lots
// before (9 CFR 320.1(b)(4)(iii); carrying over is named in (i)).
func GrindLots(events []GrindEvent) []GrindLot {
	var lots []GrindLot
	var carried []string
	fresh := true
	for _, e := range events {
		if e.Cleaned {
			carried, fresh = nil, true
			continue
		}
		sources := sortedSet(e.Sources)
		if last := len(lots) - 1; !fresh && slices.Equal(lots[last].Sources, sources) {
			continue
		}
		l := GrindLot{From: e.At, Sources: sources}
		for _, c := range carried {
			if !slices.Contains(sources, c) {
				l.Carried = append(l.Carried, c)
			}
		}
		lots = append(lots, l)
		carried = sortedSet(append(slices.Clone(carried), sources...))
		fresh = false
	}
	return lots
}

func sortedSet(list []string) []string {
	out := slices.Clone(list)
	slices.Sort(out)
	return slices.Compact(out)
}
