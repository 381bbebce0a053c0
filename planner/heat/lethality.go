package heat

import (
	"fmt"
	"math"
	"slices"
	"time"

	"flitchbook/planner/unit"
)

// NotReady is the status of hot-smoked bacon, whatever its log shows (FSIS HACCP Model
// for Bacon, heat-treated, not fully cooked).
const NotReady = "not fully cooked – cook before eating"

// The kill of Salmonella in whole-muscle meat behind FSIS Appendix A (1999), 6.5-log
// column: 67 s at 150 °F, ten times faster every 10 °F. Below 130 °F no credit is
// given: later work does not agree with the table there.
const (
	KillZ     = 10.0             // °F
	KillD150  = 67.0 / 6.5 / 60  // minutes for one log at 150 °F
	CreditMin = unit.Temp(13000) // 130 °F
	slowTop   = unit.Temp(13500) // processes that live below 135 °F are flagged
)

// A Point is one reading of a product's core.
type Point struct {
	After time.Duration // since the log began
	Temp  unit.Temp
}

// Kill is what a core log amounts to, for information only.
type Kill struct {
	F150   float64 // minutes at 150 °F that do as much
	Logs   float64 // of Salmonella
	Met    bool    // 6.5 logs
	Status string  // NotReady
	Notes  []string
}

// maxPoints bounds a log.
const maxPoints = 100_000

// fitLog reports a log that cannot be read, its points named as points[i].
func fitLog(points []Point, least int) error {
	var f unit.Faults
	if len(points) < least {
		f.Add("points", fmt.Sprintf("a log needs at least %d readings", least))
	}
	if len(points) > maxPoints {
		f.Add("points", fmt.Sprintf("a log of more than %d readings cannot be read", maxPoints))
	}
	for i, p := range points {
		if p.Temp < -10000 || p.Temp > 100_000 {
			f.Add(fmt.Sprintf("points[%d]", i), p.Temp.String()+" is no temperature of food")
		}
		if i > 0 && p.After <= points[i-1].After {
			f.Add(fmt.Sprintf("points[%d]", i), "a reading must come after the one before it")
		}
	}
	return f.Err()
}

// Lethality integrates a core log exactly over straight lines between readings: for
// T1 to T2 over t, t·z/ln 10·(10^((T2−150)/z) − 10^((T1−150)/z))/(T2 − T1), each line
// clipped at 130 °F. Taking the mean of two readings instead can find three times as
// much. The error is unit.Faults.
func Lethality(points []Point) (Kill, error) {
	if err := fitLog(points, 2); err != nil {
		return Kill{}, err
	}
	k := Kill{Status: NotReady}
	low, credit := 0.0, 0.0
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		minutes := (b.After - a.After).Minutes()
		f, above := segment(minutes, a.Temp.F(), b.Temp.F())
		k.F150 += f
		credit += above
		if above > 0 && max(a.Temp, b.Temp) <= slowTop {
			low += f
		}
	}
	k.Logs = k.F150 / KillD150
	k.Met = k.Logs >= 6.5-1e-9
	if credit == 0 {
		k.Notes = append(k.Notes, "never above 130 °F: no credit")
	}
	if low > k.F150/2 {
		k.Notes = append(k.Notes, "most of it was gained at 130 to 135 °F, where the table is doubtful")
	}
	k.Notes = append(k.Notes, "for information only: a log never makes bacon ready to eat")
	return k, nil
}

// segment is minutes at 150 °F that do as much as a straight line from t1 to t2, and
// the minutes of it at 130 °F or above.
func segment(minutes, t1, t2 float64) (f150, above float64) {
	floor := CreditMin.F()
	lo, hi := min(t1, t2), max(t1, t2)
	if hi < floor {
		return 0, 0
	}
	if lo < floor {
		minutes *= (hi - floor) / (hi - lo)
		lo = floor
	}
	// 10^x·(10^d − 1)/d, with expm1 so that nearly flat lines lose nothing.
	rate := math.Pow(10, (lo-150)/KillZ)
	if d := (hi - lo) / KillZ * math.Ln10; d > 0 {
		rate *= math.Expm1(d) / d
	}
	return minutes * rate, minutes
}

// A PrintedRow is one row of FSIS Appendix A (1999): the time at a core temperature
// for 6.5 and for 7 logs of Salmonella.
type PrintedRow struct {
	Temp       unit.Temp
	Six, Seven time.Duration
}

// AppendixA lists the printed rows that were read (mirror of the 1999 table; 6.5 logs
// also Food Code 2009 3-401.11(B)(2), 7 logs also 1 NYCRR 271-2.10). It is believed to
// be unchanged in the guideline of 2021.
func AppendixA() []PrintedRow {
	const m, s = time.Minute, time.Second
	rows := []PrintedRow{{130, 112 * m, 121 * m}, {132, 71 * m, 77 * m}, {133, 56 * m, 62 * m}, {135, 36 * m, 37 * m}, {136, 28 * m, 32 * m},
		{138, 18 * m, 19 * m}, {139, 15 * m, 15 * m}, {140, 12 * m, 12 * m}, {142, 8 * m, 8 * m}, {144, 5 * m, 5 * m}, {145, 4 * m, 4 * m},
		{146, 169 * s, 182 * s}, {148, 107 * s, 115 * s}, {150, 67 * s, 72 * s}, {151, 54 * s, 58 * s}, {153, 34 * s, 37 * s}, {154, 27 * s, 29 * s},
		{156, 17 * s, 19 * s}, {157, 14 * s, 15 * s}, {158, 0, 0}}
	for i := range rows {
		rows[i].Temp *= unit.Fahrenheit
	}
	return rows
}

// HoldFor65 is the time for 6.5 logs by the formula, rounded up as the table rounds: to
// minutes up to 145 °F, to seconds above. Below 130 °F there is none.
func HoldFor65(t unit.Temp) (time.Duration, bool) {
	switch {
	case t < CreditMin:
		return 0, false
	case t >= 158*unit.Fahrenheit:
		return 0, true
	}
	seconds := 67 * math.Pow(10, (150-t.F())/KillZ)
	if t <= 145*unit.Fahrenheit {
		return time.Duration(math.Ceil(seconds/60-1e-9)) * time.Minute, true
	}
	return time.Duration(math.Ceil(seconds-1e-9)) * time.Second, true
}

// HoldFor7 is the printed time for 7 logs at the listed temperature at or next below t:
// that column follows no formula and is never read between its rows.
func HoldFor7(t unit.Temp) (time.Duration, bool) {
	rows := AppendixA()
	for _, r := range slices.Backward(rows) {
		if t >= r.Temp {
			return r.Seven, true
		}
	}
	return 0, false
}
