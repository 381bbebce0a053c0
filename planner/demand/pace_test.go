package demand

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// clinics are the past clinics of rows E-K1 to E-K5 as booking runs: 21 days out, 7 days
// out, final. Own data of the reference.
func clinics() []Run {
	var runs []Run
	for i, c := range [][3]int{{6, 14, 20}, {4, 11, 16}, {9, 18, 24}, {5, 12, 19}, {8, 15, 21}} {
		runs = append(runs, Run{fmt.Sprint("P", i), 24, []Sale{{30, c[0]}, {21, 0}, {10, c[1] - c[0]}, {3, c[2] - c[1] + 1}, {2, -1}}})
	}
	return runs
}

// The pace of those five: 6.4 of 20.0 seats 21 days out (32 %), 14.0 (70 %) 7 days out.
func TestPace(t *testing.T) {
	points := PaceOf(clinics(), []int{0, 7, 21, 7})
	var got []string
	for _, p := range points {
		got = append(got, fmt.Sprintf("%d: %.1f, %d–%d, %.0f %%", p.Before, p.Mean, p.Low, p.High, 100*p.Share))
	}
	if s := strings.Join(got, "; "); s != "21: 6.4, 4–9, 32 %; 7: 14.0, 11–18, 70 %; 0: 20.0, 16–24, 100 %" {
		t.Errorf("pace %s", s)
	}
	// Rows E-K1 and E-K2 come out of the runs as they do out of the table.
	for before, want := range map[int]string{21: fmt.Sprint(at21), 7: fmt.Sprint(at7)} {
		past := PastAt(clinics(), before)
		for i := range past {
			past[i].Seats = 0
		}
		if got := fmt.Sprint(past); got != want {
			t.Errorf("%d days out: %s, want %s", before, got, want)
		}
	}
	if got := Beside(clinics(), 21, 3); got != "3 on hand 21 days before; 5 earlier ones had 6.4 (4 to 9)" {
		t.Errorf("beside: %s", got)
	}
	if Beside(nil, 21, 3) != "3 on hand; no earlier class to go by" || PaceOf(nil, []int{1}) != nil {
		t.Error("without history")
	}
}

// E-K4 and the band by hand: leave-one-out misses 21 days out are 0.5, −2, 1.75, 0.5
// and −0.75 (mean of sizes 1.10); so 20.6 may end between 18.6 and 22.35, two in three.
func TestBand(t *testing.T) {
	f := Expect(at21, 7, 24)
	if f.Low != 18 || f.High != 23 || f.Band() != "between 18 and 23, 67 % of the time" {
		t.Errorf("band %d to %d: %s", f.Low, f.High, f.Band())
	}
	is(t, "E-K4 as part of the forecast", f.Error, 1.10, 0.005)
	for m := Additive; m <= RatioOfSums; m++ {
		f := m.Expect(at21, 7, 24)
		if f.Method != m || f.Low > f.Seats || f.High < f.Seats {
			t.Errorf("%s: %d is not in %d to %d", m, f.Seats, f.Low, f.High)
		}
		var back Method
		if b, err := m.MarshalText(); err != nil || back.UnmarshalText(b) != nil || back != m {
			t.Errorf("%s does not read back", m)
		}
	}
	if f := MeanRatio.Expect(at21, 7, 24); f.Seats != 23 || f.Why != "7 on hand, by the mean ratio of 5 earlier = 23.0" {
		t.Errorf("mean ratio: %d, %s", f.Seats, f.Why)
	}
	if f := Expect(nil, 3, 12); f.Low != 3 || f.High != 12 || f.Band() != "" {
		t.Errorf("no history: %d to %d", f.Low, f.High)
	}
	if f := Expect(at21[:1], 7, 24); f.Low != 7 || f.High != 24 || f.Band() != "" {
		t.Errorf("one class: %d to %d", f.Low, f.High)
	}
	if new(Method).UnmarshalText([]byte("guess")) == nil {
		t.Error("a method nobody knows was taken")
	}
}

// The forecast lies in its band, the band in the room, and a seat sold more never lowers
// the additive forecast.
func TestBandLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var past []Past
		for range rapid.IntRange(0, 8).Draw(t, "history") {
			final := rapid.IntRange(0, 12).Draw(t, "final")
			past = append(past, Past{rapid.IntRange(0, 12).Draw(t, "on hand"), final, 12})
		}
		seats := rapid.IntRange(0, 12).Draw(t, "seats")
		hand := rapid.IntRange(0, seats).Draw(t, "now")
		m := Method(rapid.IntRange(0, 2).Draw(t, "method"))
		f := m.Expect(past, hand, seats)
		if f.Low < 0 || f.Low > f.High || f.High > seats || f.Seats < 0 || f.Seats > seats {
			t.Fatalf("%+v", f)
		}
		if more := Expect(past, hand+1, seats+1); more.Seats < Expect(past, hand, seats).Seats {
			t.Fatalf("a seat more: %d, before %d", more.Seats, f.Seats)
		}
	})
}
