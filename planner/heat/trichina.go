package heat

import (
	"fmt"
	"time"

	"flitchbook/planner/unit"
)

// trichina is 9 CFR 318.10, reserved since 2018 (from memory) and still used: the times
// for which the larvae are taken to be dead. Core heat: the table as two threads quote
// it. Freezer: JAMA 155:1394, 1954, abstract, read. Frozen core: a review, as quoted.
var (
	trichinaHeat = []heldRow{{12000, 21 * time.Hour}, {12200, 570 * time.Minute}, {12600, 2 * time.Hour}, {12800, time.Hour}, {13000, 30 * time.Minute},
		{13400, 6 * time.Minute}, {13600, 3 * time.Minute}, {14000, time.Minute}, {14400, 0}}
	trichinaThin  = []heldRow{{500, 20 * day}, {-2000, 6 * day}}  // up to thinInches
	trichinaThick = []heldRow{{500, 30 * day}, {-2000, 12 * day}} // up to mostInches
	trichinaCore  = []heldRow{{0, 106 * time.Hour}, {-500, 82 * time.Hour}, {-1500, 48 * time.Hour}, {-2000, 35 * time.Hour}, {-3000, 8 * time.Hour}, {-3500, 30 * time.Minute}}
)

const (
	day        = 24 * time.Hour
	thinInches = 6.0
	mostInches = 27.0
)

type heldRow struct {
	Temp unit.Temp
	For  time.Duration
}

// A Treatment is what kills trichina larvae, by the row of the table it is read from.
type Treatment struct {
	Credit bool
	For    time.Duration
	Row    unit.Temp
	Why    string
}

// TrichinaByHeat is the time for which all parts must be at least so hot. Between two
// rows the cooler one holds.
func TrichinaByHeat(core unit.Temp) Treatment {
	for i := len(trichinaHeat) - 1; i >= 0; i-- {
		if r := trichinaHeat[i]; core >= r.Temp {
			return r.treatment("all parts at")
		}
	}
	return Treatment{Why: fmt.Sprintf("%s is below %s, the lowest heat of the table", core.Show(), trichinaHeat[0].Temp.Show())}
}

// TrichinaByFreezer is the time in a freezer for a piece of pork so thick in inches.
// Between two rows the warmer one holds. Freezing does not kill the kinds that live in
// game.
func TrichinaByFreezer(freezer unit.Temp, inches float64, game bool) Treatment {
	rows := trichinaThin
	switch {
	case game:
		return noGame
	case !(inches > 0 && inches <= mostInches):
		return Treatment{Why: fmt.Sprintf("the table knows nothing of a piece of %.1f in; it goes to %.0f in", inches, mostInches)}
	case inches > thinInches:
		rows = trichinaThick
	}
	return byCold(rows, freezer, "freezer at")
}

// TrichinaByFrozenCore is the time for which the core itself must be so cold.
func TrichinaByFrozenCore(core unit.Temp, game bool) Treatment {
	if game {
		return noGame
	}
	return byCold(trichinaCore, core, "core at")
}

var noGame = Treatment{Why: "freezing is no treatment for game: its kinds of trichina live through it"}

// byCold reads a table that grows colder downwards.
func byCold(rows []heldRow, t unit.Temp, what string) Treatment {
	for i := len(rows) - 1; i >= 0; i-- {
		if t <= rows[i].Temp {
			return rows[i].treatment(what)
		}
	}
	return Treatment{Why: fmt.Sprintf("%s is warmer than %s, the warmest of the table", t.Show(), rows[0].Temp.Show())}
}

func (r heldRow) treatment(what string) Treatment {
	t := Treatment{Credit: true, For: r.For, Row: r.Temp}
	switch {
	case r.For == 0:
		t.Why = fmt.Sprintf("%s %s: at once", what, r.Temp.Show())
	case r.For >= 6*day:
		t.Why = fmt.Sprintf("%s %s: %d days", what, r.Temp.Show(), r.For/day)
	default:
		t.Why = fmt.Sprintf("%s %s: %s", what, r.Temp.Show(), clock(r.For))
	}
	return t
}
