package order_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"
	"time"

	"flitchbook/planner/integer"
	"flitchbook/planner/order"
	"flitchbook/planner/unit"
)

// dice is a small generator of our own, so that an invented season is the same everywhere.
type dice uint64

func (d *dice) roll(lo, hi int) int {
	*d = *d*6364136223846793005 + 1442695040888963407
	return lo + int(uint64(*d)>>33)%(hi-lo+1)
}

// invented is a season of twelve weeks in the manner of testdata/order: farms deliver
// weekly, classes need sides or cuts; rooms, caps and outlets grow with the classes.
func invented(seed, classes, farms, weeks int) order.Problem {
	d := dice(seed)
	grow := max(1, (classes+29)/30)
	cuts := []string{"belly", "shoulder", "loin", "leg"}
	space := map[string]int{"side": 7, "belly": 1, "shoulder": 2, "loin": 1, "leg": 3}
	value := map[string]unit.Money{"belly": 3600, "shoulder": 3900, "loin": 4700, "leg": 4300}
	freeze := map[string]unit.Money{"belly": 150, "shoulder": 150, "loin": 120, "leg": 200}
	p := order.Problem{Forms: pigForms()}
	for _, name := range append([]string{"side"}, cuts...) {
		k := order.Kind{Name: name, Space: space[name], FreshMin: 2, FreshMax: 6, FreezeCost: freeze[name], Value: value[name]}
		if name == "side" {
			for _, c := range cuts {
				k.BreaksInto = append(k.BreaksInto, order.Count{Name: c, N: 1})
			}
		} else {
			k.FrozenMax = 45
			for range weeks + 1 {
				k.Outlet = append(k.Outlet, d.roll(1, 4)*grow)
			}
		}
		p.Kinds = append(p.Kinds, k)
	}
	for f := range farms {
		price, first, drop := 13000+50*d.roll(0, 60), d.roll(1, 6), 500*d.roll(3, 12)
		for w := range weeks {
			price += 50 * d.roll(-8, 8)
			half := price + 500 + 50*d.roll(0, 12)
			o := order.Offer{ID: fmt.Sprintf("%d-%d", f, w), Farm: fmt.Sprint(f), Day: first + 7*w, Drop: unit.Money(drop),
				Prices: []order.Price{{Form: "whole", Unit: unit.Money(2 * price)}, {Form: "half", Unit: unit.Money(half)}, {Form: "bellybox", Unit: unit.Money(32000 + 50*d.roll(0, 60))}},
				Caps:   []order.Count{{Name: "halves", N: 2 * d.roll(0, 3) * grow}, {Name: "boxes", N: d.roll(0, 1) * grow}}}
			p.Offers = append(p.Offers, o)
		}
	}
	for c := range classes {
		need := func(kinds ...string) (list []order.Count) {
			for _, k := range kinds {
				list = append(list, order.Count{Name: k, N: d.roll(1, 4)})
			}
			return list
		}
		near := p.Offers[d.roll(0, len(p.Offers)-1)] // a class lies within reach of some delivery
		for near.Caps[0].N < 4 || near.Day < 8 {
			near = p.Offers[d.roll(0, len(p.Offers)-1)]
		}
		cl := order.Class{ID: fmt.Sprint(c), Day: near.Day + d.roll(2, 6)}
		switch d.roll(0, 4) {
		case 0:
			cl.Demand, cl.FrozenOK = need("belly"), []string{"belly"}
		case 1:
			cl.Demand = need("leg")
		case 2:
			cl.Demand, cl.FrozenOK = need("shoulder", "belly"), []string{"belly", "shoulder"}
		case 3:
			cl.Demand, cl.FrozenOK = need("loin", "shoulder", "leg"), []string{"shoulder", "loin"}
		default:
			cl.Demand = []order.Count{{Name: "side", N: d.roll(1, 2)}}
		}
		p.Classes = append(p.Classes, cl)
	}
	p.Cooler.Cap, p.Freezer.Cap = 60*grow, 20*grow
	return p
}

// BenchmarkDemoSeason plans a season of the demo shop's size again after one seat more:
// what the owner waits for after a booking.
func BenchmarkDemoSeason(b *testing.B) {
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		p := invented(1+i%8, 14, 2, 10)
		for o := range p.Offers { // two farms feed it alone: let them have enough
			p.Offers[o].Caps[0].N = 12
		}
		p.Cooler.Cap = 150
		p.Classes[3].Demand[0].N++
		start := time.Now()
		a, err := order.Solve(p, order.Options{Plans: 3})
		if err != nil {
			b.Fatal(err)
		}
		if a.Status != order.Proven {
			b.Fatal(a.Status)
		}
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)-1].Milliseconds()), "worst-ms")
}

// BenchmarkBesideCBC solves the eight seasons to proof here and with CBC, one after the
// other on the same machine: seconds of processor time, and their ratio.
func BenchmarkBesideCBC(b *testing.B) {
	needCBC(b)
	for _, name := range []string{"op-30-s1", "op-30-s2", "op-30-s3", "op-30-s4", "op-30-s5", "op-60-s2", "op-60-s4", "op-60-s5"} {
		b.Run(name, func(b *testing.B) { beside(b, instance(b, name), order.Options{}) })
	}
}

// BenchmarkGrowth is the time to a plan proven to lie within 1 % of the best, as the
// classes grow, beside CBC's.
func BenchmarkGrowth(b *testing.B) {
	needCBC(b)
	for _, n := range []int{30, 60, 120, 240} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			// Whoever takes longer than a minute or two is stopped, and the gap left is told.
			beside(b, invented(n, n, 6, 12), order.Options{Gap: 10_000, Limit: integer.Limit{Work: 300_000}}, "-ratioGap", "0.01", "-sec", "120")
		})
	}
}

func needCBC(b *testing.B) {
	if _, err := exec.LookPath("cbc"); err != nil {
		b.Skip("LEFT OUT: no cbc here (Debian: coinor-cbc)")
	}
}

func beside(b *testing.B, p order.Problem, opt order.Options, args ...string) {
	lp, err := order.LP(p)
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(b.TempDir(), "p.lp")
	if err := os.WriteFile(file, lp, 0o600); err != nil {
		b.Fatal(err)
	}
	ours, theirs, gap := 0.0, 0.0, 0.0
	for b.Loop() {
		before := processor(b)
		a, err := order.Solve(p, opt)
		if err != nil {
			b.Fatal(err)
		}
		ours += processor(b) - before
		cost, o := cbc(b, file, args...)
		theirs += o.seconds
		if opt.Gap == 0 && (cost != a.Cost || a.Status != order.Proven) {
			b.Fatalf("cbc finds %s, here %s", cost, a.Cost)
		}
		gap = 100 * float64(a.Cost-a.Bound) / float64(a.Cost)
	}
	n := float64(b.N)
	b.ReportMetric(ours/n, "cpu-s")
	b.ReportMetric(theirs/n, "cbc-cpu-s")
	b.ReportMetric(ours/theirs, "ratio")
	b.ReportMetric(gap, "gap-%")
}

var objective = regexp.MustCompile(`Objective value:\s+(-?[0-9.]+)`)

// outside is what a run of cbc came to.
type outside struct {
	plan    bool
	seconds float64 // of processor time
}

// cbc solves an LP file.
func cbc(t interface{ Fatalf(string, ...any) }, file string, args ...string) (unit.Money, outside) {
	cmd := exec.Command("cbc", append(append([]string{file}, args...), "-solve")...)
	said, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("cbc: %v\n%s", err, said)
	}
	o := outside{seconds: cmd.ProcessState.UserTime().Seconds()}
	m := objective.FindSubmatch(said)
	if m == nil {
		if !bytes.Contains(said, []byte("infeasible")) {
			t.Fatalf("cbc said neither a cost nor that there is none:\n%s", said)
		}
		return 0, o
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatalf("cbc: %v\n%s", err, said)
	}
	o.plan = true
	return unit.Money(math.Round(v)), o
}
