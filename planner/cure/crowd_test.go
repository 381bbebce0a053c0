package cure

import (
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"flitchbook/planner/unit"
)

// slabs is how many random slabs TestACrowdOfSlabs draws; -slabs=20000000 goes looking.
var slabs = flag.Int("slabs", manySlabs, "random slabs to make tickets for")

const crowdRow = 5_000 // slabs of one seed, so that the draw does not hang on the cores

// Whatever the slab, recipe, scale, skin, lots and limit: no ticket and no accepted
// weigh-out lies over its limit, what the scale's step could carry over it is warned of,
// and every stop explains itself with numbers. The level is reckoned here in floating point, apart from the code under test;
// what is nearer to a limit than that can tell, the rapid test's whole numbers judge.
func TestACrowdOfSlabs(t *testing.T) {
	n := *slabs
	if testing.Short() || raced {
		n = min(n, 20_000)
	}
	var sums [crowdKinds]atomic.Int64
	var failed atomic.Bool
	rows := make(chan uint64)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for seed := range rows {
				c := crowd{Rand: rand.New(rand.NewPCG(seed, 7)), limits: Limits()}
				for i := 0; i < crowdRow && !failed.Load(); i++ {
					if err := c.one(); err != nil {
						failed.Store(true)
						t.Errorf("seed %d, slab %d: %v", seed, i, err)
					}
				}
				for k, v := range c.sums {
					sums[k].Add(v)
				}
			}
		}()
	}
	for seed := range uint64((n + crowdRow - 1) / crowdRow) {
		rows <- seed
	}
	close(rows)
	wg.Wait()
	t.Logf("%d tickets made, %d refused; %d weigh-outs passed, %d of them with a warning, %d stopped", sums[made].Load(), sums[refused].Load(),
		sums[passed].Load(), sums[warned].Load(), sums[stopped].Load())
	for k := range sums {
		if sums[k].Load() < int64(n)/500 {
			t.Errorf("kind %d came up %d times: the draw tries too little", k, sums[k].Load())
		}
	}
}

const (
	made = iota
	refused
	passed
	warned
	stopped
	crowdKinds
)

type crowd struct {
	*rand.Rand
	limits []Limit
	sums   [crowdKinds]int64
}

func (c *crowd) between(low, high int64) int64 { return low + c.Int64N(high-low+1) }

func (c *crowd) one() error {
	l := c.limits[0]
	if c.IntN(3) == 0 {
		l = c.limits[c.IntN(len(c.limits))]
	}
	s := Slab{Tag: "B4-03", Green: unit.Weight(c.between(20, 900)) * (unit.Pound / 100), SkinOn: c.IntN(2) == 0}
	if c.IntN(4) == 0 {
		s.Green = unit.Weight(c.between(1, int64(9*unit.Pound))) // to a nanogram
	}
	if s.SkinOn && c.IntN(2) == 0 {
		s.Skin = unit.Ratio(c.between(0, 300_000))
	}
	var lots []LotShare
	left, strength := unit.One, 0.0
	for k := 1 + c.IntN(3)/2*c.IntN(3); k >= 1; k-- {
		share := left
		if k > 1 {
			share = unit.Ratio(c.between(0, int64(left)))
		}
		left -= share
		lot := Lot{ID: fmt.Sprint("C-", k), Nitrite: [...]unit.Ratio{62_500, 58_824, 56_690, 40_000, 6_000, 100_000}[c.IntN(6)]}
		if c.IntN(3) == 0 {
			lot.Nitrite = unit.Ratio(c.between(5_000, 200_000))
		}
		if c.IntN(12) == 0 {
			lot.Nitrate = unit.Ratio(c.between(1, 40_000))
		}
		lots = append(lots, LotShare{lot, share})
		strength += float64(share) / 1e6 * float64(lot.Nitrite)
	}
	aim := float64(c.between(int64(l.Floor)*3/4+20_000, int64(l.Max)*5/4)) / 1000 // ppm
	r := Recipe{Salt: unit.Ratio(c.between(0, 60_000)), Sugar: unit.Ratio(c.between(0, 30_000)), CuringSalt: unit.Ratio(aim / strength * 1e6), Limit: l}
	step := [...]unit.Weight{tenth, tenth, tenth / 2, tenth / 10, unit.Gram}[c.IntN(5)]
	k, err := NewTicket(s, r, Jar{"PB", unit.Ratio(c.between(0, 20_000))}, lots, step)
	if err != nil {
		var no *Refusal
		if !errors.As(err, &no) || no.Verdict.Answer != Block || !strings.ContainsAny(err.Error(), "0123456789") {
			return fmt.Errorf("refused with %#v", err)
		}
		c.sums[refused]++
		return nil
	}
	c.sums[made]++
	if l.Method != Dry || l.Basis != IngoingBasis || step > tenth {
		return fmt.Errorf("a ticket under %q on a scale of %s", l.ID, step)
	}
	if out, sure := c.out(l, s, k.Parts); sure && out {
		return fmt.Errorf("a ticket outside its limit: %+v", k)
	}
	if err := k.Check(); err != nil {
		return fmt.Errorf("Check of a fresh ticket: %w", err)
	}
	return c.weigh(k, l, step)
}

// weigh tries one weigh-out near the ticket.
func (c *crowd) weigh(k Ticket, l Limit, step unit.Weight) error {
	var texts []string
	var doses []Dose
	var got unit.Weight
	for _, p := range k.Parts {
		tenths := int64(p.Weight / tenth)
		w := c.between(max(0, tenths-tenths/8-1), tenths+tenths/8+1)
		texts = append(texts, fmt.Sprintf("%d.%d", w/10, w%10))
		doses = append(doses, Dose{p.Lot, unit.Weight(w) * tenth})
		got += unit.Weight(w) * tenth
	}
	v := CheckWeighOut(k, strings.Join(texts, "+"), Scale{Name: "T1", Step: step, Checked: today, Reading: CheckWeight}, today)
	if !strings.ContainsAny(v.Reason(), "0123456789") {
		return fmt.Errorf("no numbers in %+v", v)
	}
	far := 10*max(got-k.CuringSalt, k.CuringSalt-got) > k.CuringSalt
	out, sure := c.out(l, k.Slab, doses)
	if (v.Answer == Block) != (far || out) && (sure || far) {
		return fmt.Errorf("%v of %s for a ticket of %s: %+v", texts, l.ID, k.CuringSalt.G(1), v)
	}
	if v.Answer == Block {
		c.sums[stopped]++
		return nil
	}
	c.sums[passed]++
	if over, sure := c.over(l, k.Slab, doses, step/2); sure && over && v.Answer != Warn {
		return fmt.Errorf("%v might pass %s and nobody is warned: %+v", texts, l.Max, v)
	}
	if v.Answer == Warn {
		c.sums[warned]++
	}
	return nil
}

// level in ppm as the limit counts it, each dose heavier by so much.
func (c *crowd) level(l Limit, s Slab, doses []Dose, more unit.Weight) (ppm float64, nitrate bool) {
	meat := float64(s.Green)
	if s.SkinOn {
		meat *= 1 - math.Max(0.10, float64(s.Skin)/1e6)
	}
	for _, d := range doses {
		ppm += float64(d.Weight+more) * float64(d.Nitrite)
		nitrate = nitrate || d.Nitrate > 0 && d.Weight > 0
	}
	ppm /= meat
	if l.Counted == NitriteIon {
		ppm *= 46.0055 / 68.9953
	}
	return ppm, nitrate
}

// out says whether doses lie outside the limit or its floor; sure is false where that is
// nearer than floating point can tell.
func (c *crowd) out(l Limit, s Slab, doses []Dose) (out, sure bool) {
	ppm, nitrate := c.level(l, s, doses, 0)
	high, low := float64(l.Max)/1000, float64(l.Floor)/1000
	return nitrate || ppm > high || ppm < low, nitrate || math.Abs(ppm-high) > 1e-6 && math.Abs(ppm-low) > 1e-6
}

func (c *crowd) over(l Limit, s Slab, doses []Dose, more unit.Weight) (over, sure bool) {
	ppm, _ := c.level(l, s, doses, more)
	high := float64(l.Max) / 1000
	return ppm > high, math.Abs(ppm-high) > 1e-6
}
