package inspection

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

func day(y int, m time.Month, d int) unit.Day { return unit.DayOf(y, m, d) }

// Retention: 9 CFR 320.3(a) two years after 31 December of the year of the transaction;
// 9 CFR 320.3(c) one year for grinding.
func TestKeep(t *testing.T) {
	for _, r := range []struct {
		id        string
		keep      func(unit.Day) unit.Day
		made, end unit.Day
	}{
		{"E-R1 purchase", KeepPurchase, day(2026, 3, 14), day(2028, 12, 31)},
		{"E-R2 last day of a year", KeepPurchase, day(2025, 12, 31), day(2027, 12, 31)},
		{"E-R2 first day of the next", KeepPurchase, day(2026, 1, 1), day(2028, 12, 31)},
		{"E-R3 grinding", KeepGrinding, day(2026, 3, 14), day(2027, 3, 14)},
		{"grinding on a leap day", KeepGrinding, day(2028, 2, 29), day(2029, 3, 1)},
	} {
		if got := r.keep(r.made); got != r.end {
			t.Errorf("%s, %s: keep to %s, want %s", r.id, r.made, got, r.end)
		}
	}
}

// Lots of ground beef: 9 CFR 320.1(b)(4)(iii), worked as row E-R4: cleaned at 8, trim of A
// and B at 8:30, C at 10 without cleaning, cleaned at 12, D at 13.
func TestGrindLots(t *testing.T) {
	at := func(h, m int) unit.Instant { return unit.Instant(h*3600 + m*60) }
	got := GrindLots([]GrindEvent{
		{At: at(8, 0), Cleaned: true}, {At: at(8, 30), Sources: []string{"B", "A"}}, {At: at(10, 0), Sources: []string{"C"}},
		{At: at(12, 0), Cleaned: true}, {At: at(13, 0), Sources: []string{"D"}},
	})
	if s := fmt.Sprint(got); s != fmt.Sprintf("[{%v [A B] []} {%v [C] [A B]} {%v [D] []}]", at(8, 30), at(10, 0), at(13, 0)) {
		t.Errorf("lots %s", s)
	}
	// The same sources on and on are one lot; cleaning between begins another.
	same := []GrindEvent{{At: 1, Sources: []string{"A"}}, {At: 2, Sources: []string{"A"}}, {At: 3, Cleaned: true}, {At: 4, Sources: []string{"A"}}}
	if got := GrindLots(same); len(got) != 2 || len(got[1].Carried) != 0 {
		t.Errorf("the same source before and after cleaning: %v", got)
	}
	if GrindLots(nil) != nil {
		t.Error("nothing ground is a lot")
	}
}

// What may be served: University of Florida IFAS AN204 and Oregon State EM 9345 for custom
// kill (row E-R5), Food Code 3-201.17 for hunted game (row E-R6).
func TestServe(t *testing.T) {
	for _, r := range []struct {
		id, species string
		kill        Kill
		rule        string // "" accepts
	}{
		{"E-R5 custom-exempt side", "beef", CustomExempt, "custom exemption"},
		{"E-R5 of any species", "pork", CustomExempt, "custom exemption"},
		{"E-R6 hunted deer", "deer", Hunted, "Food Code 3-201.17"},
		{"E-R6 farmed deer with a mark", "deer", Inspected, ""},
		{"a pig with a mark", "pork", Inspected, ""},
		{"no mark", "lamb", Uninspected, "no inspection"},
		{"an answer nobody knows", "lamb", "found it", "no inspection"},
		{"no answer", "lamb", "", "no inspection"},
	} {
		err := Serve(r.species, r.kill)
		var no *Refusal
		switch {
		case r.rule == "" && err != nil:
			t.Errorf("%s: refused: %v", r.id, err)
		case r.rule != "" && (!errors.As(err, &no) || no.Rule != r.rule || no.Reason == ""):
			t.Errorf("%s: %v, want a refusal by %q", r.id, err, r.rule)
		}
	}
}

// 9 CFR 310.22, from memory: the vertebral column of cattle of 30 months and older.
func TestBoneInLoin(t *testing.T) {
	for age, ok := range map[Cattle]bool{Under30: true, From30: false, SpineOut: false, NotAsked: false, "three": false} {
		if err := BoneInLoin(age); (err == nil) != ok {
			t.Errorf("%q: %v", age, err)
		}
	}
}
