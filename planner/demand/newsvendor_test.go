package demand

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

func is(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s = %.5f, want %v", what, got, want)
	}
}

// Rows E-N1 to E-N4 on no-shows. Sources: E-N1 a consultancy blog on 15 free courses,
// 2015, and E-N4 the same [read]; E-N2 and E-N3 computed (binomial).
func TestNoShowRows(t *testing.T) {
	n := Turnout{Registered: 365, Cancelled: 20, Came: 260}
	if n.NoShows() != 85 || n.Rate().Pct(1) != "24.6 %" {
		t.Errorf("E-N1: %d no-shows, %s", n.NoShows(), n.Rate())
	}
	is(t, "E-N2 all come", Overbook(12, 13, 0.95).All, 0.5133, 0.00005)
	three := Overbook(12, 14, 0.90)
	is(t, "E-N3 too many", three.Over, 0.5846, 0.00005)
	is(t, "E-N3 turned away", three.Turned, 0.8134, 0.00005)
	if got := RegisteredFor(112, 25*unit.Percent); got != 448 {
		t.Errorf("E-N4: %d registered", got)
	}
	if o := Overbook(12, 12, 0.5); o.Over != 0 || o.Turned != 0 {
		t.Errorf("nobody oversold, yet %+v", o)
	}
	if (Turnout{Registered: 3, Cancelled: 3}).Rate() != 0 || RegisteredFor(5, 0) != 0 || Overbook(1, 2, 1).All != 1 || Overbook(1, 2, 0).All != 0 {
		t.Error("edges")
	}
}

// Rows E-Q1 to E-Q6. Sources: E-Q1 and E-Q3 exercises [read], answers computed; E-Q2 a
// textbook example, prices [memory], demand [read]; the others computed.
func TestNewsvendorRows(t *testing.T) {
	s := StakeOf(20, 14, 5)
	cr, err := s.Critical()
	if s.Short != 6 || s.Over != 9 || err != nil {
		t.Errorf("E-Q1: %+v, %v", s, err)
	}
	is(t, "E-Q1 ratio", cr, 0.40, 1e-9)
	is(t, "E-Q1 uniform", Uniform{80, 150}.Quantity(cr), 108.0, 1e-9)
	is(t, "E-Q1 N(115,15)", Normal{115, 15}.Quantity(cr), 111.2, 0.005)
	is(t, "E-Q1 N(115,5)", Normal{115, 5}.Quantity(cr), 113.73, 0.005)

	cr, _ = StakeOf(0.75, 0.25, 0.10).Critical()
	is(t, "E-Q2 ratio", cr, 0.7692, 0.00005)
	is(t, "E-Q2 z", Z(cr), 0.7363, 0.00005)
	is(t, "E-Q2", Normal{11.73, 4.74}.Quantity(cr), 15.22, 0.005)

	s = Stake{40, 10}
	cr, _ = s.Critical()
	n := Normal{1000, 200}
	is(t, "E-Q3 ratio", cr, 0.80, 1e-9)
	is(t, "E-Q3 z", Z(cr), 0.8416, 0.00005)
	is(t, "E-Q3", n.Quantity(cr), 1168.32, 0.005)
	is(t, "E-Q3 lost", n.Lost(1169), 22.19, 0.005)
	is(t, "E-Q3 profit", n.Profit(1169, s), 37_200.36, 0.005)

	d := Discrete{{3, .10}, {4, .20}, {5, .30}, {6, .25}, {7, .10}, {8, .05}}
	s = Stake{280, 60}
	cr, _ = s.Critical()
	is(t, "E-Q4 ratio", cr, 0.8235, 0.00005)
	for q, want := range map[int]float64{5: 192, 6: 116, 7: 125} {
		is(t, fmt.Sprint("E-Q4 cost of ", q), d.Cost(q, s), want, 1e-9)
	}
	for _, step := range []int{1, 2} {
		if best, _, err := d.BestUnits(s, step, 0); err != nil || best.Units != 6 {
			t.Errorf("E-Q4 in steps of %d: %+v, %v", step, best, err)
		}
	}
	if d.Quantity(cr) != 6 {
		t.Errorf("E-Q4 fractile %d", d.Quantity(cr))
	}

	s = StakeOf(500, 300, 310)
	if _, err := s.Critical(); s.Over != -10 || s.Short != 200 || !errors.Is(err, ErrNoFractile) {
		t.Errorf("E-Q5: %+v, %v", s, err)
	}
	if best, _, err := d.BestUnits(s, 2, 12); err != nil || best.Units != 12 {
		t.Errorf("E-Q5: to capacity, not %+v, %v", best, err)
	}

	d = Discrete{{2, .2}, {3, .3}, {4, .3}, {5, .2}}
	s = Stake{150, 120}
	cr, _ = s.Critical()
	is(t, "E-Q6 ratio", cr, 0.5556, 0.00005)
	for q, want := range map[int]float64{3: 129, 4: 114, 5: 180} {
		is(t, fmt.Sprint("E-Q6 cost of ", q), d.Cost(q, s), want, 1e-9)
	}
	if d.Quantity(cr) != 4 {
		t.Errorf("E-Q6 fractile %d", d.Quantity(cr))
	}

	// The exercise whose stored answer took the loss for the salvage: ratio 0.667, 92.92.
	cr, _ = Stake{60, 30}.Critical()
	is(t, "profit 60, loss 30", Normal{80, 30}.Quantity(cr), 92.92, 0.005)
	for what, err := range map[string]error{"chances of 0.9": (Discrete{{1, .9}}).Check(), "none": (Discrete{}).Check(), "below zero": (Discrete{{-1, 1}}).Check()} {
		if err == nil {
			t.Errorf("%s was taken", what)
		}
	}
}

// The fractile of a discrete demand is the cheapest quantity, and no whole animal is
// cheaper than the best unit.
func TestNewsvendorLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var d Discrete
		total := 0
		weights := rapid.SliceOfN(rapid.IntRange(0, 20), 1, 9).Draw(t, "weights")
		for _, w := range weights {
			total += w
		}
		if total == 0 {
			weights[0], total = 1, 1
		}
		for i, w := range weights {
			d = append(d, Chance{i, float64(w) / float64(total)})
		}
		s := Stake{float64(rapid.IntRange(1, 500).Draw(t, "short")), float64(rapid.IntRange(1, 500).Draw(t, "over"))}
		best, _, err := d.BestUnits(s, 1, 0)
		if err != nil {
			t.Fatal(err)
		}
		cr, _ := s.Critical()
		if c := d.Cost(d.Quantity(cr), s); math.Abs(c-best.Cost) > 1e-6 {
			t.Fatalf("fractile %d costs %v, best %d %v", d.Quantity(cr), c, best.Units, best.Cost)
		}
		whole, _, err := d.BestUnits(s, 2, 0)
		if err != nil || whole.Units%2 != 0 || whole.Cost < best.Cost-1e-9 {
			t.Fatalf("whole animals %+v, %v", whole, err)
		}
		mean, sd := float64(rapid.IntRange(1, 300).Draw(t, "mean")), float64(rapid.IntRange(1, 90).Draw(t, "sd"))
		q := Normal{mean, sd}.Quantity(cr)
		if at := (Normal{mean, sd}).Profit(q, s); at < (Normal{mean, sd}).Profit(q+1, s)-1e-6 || at < (Normal{mean, sd}).Profit(q-1, s)-1e-6 {
			t.Fatalf("%v is not the best of its neighbours", q)
		}
	})
}
