package carcass

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// lboz is a weight as butchers' papers print it: pounds and ounces.
func lboz(lb, oz int64) unit.Weight {
	return unit.Weight(lb)*unit.Pound + unit.Weight(oz)*unit.Ounce
}

// rib is the textbook exercise of E-C1: figures [read] in an exercise on a butcher test
// and cooking-loss test; the answers are computed.
func rib() CuttingTest {
	return CuttingTest{Name: "rib", Bought: lboz(38, 12), Price: 319, Usable: lboz(22, 0), Parts: []TestPart{
		{"fat", lboz(6, 8), 0}, {"bones", lboz(4, 4), 32}, {"short ribs", lboz(3, 4), 149}, {"chopped", lboz(2, 8), 159}}}
}

// Rows E-C1 to E-C7.
func TestCuttingTestRows(t *testing.T) {
	cooked := rib()
	cooked.Cooked, cooked.Carving, cooked.Portion = lboz(20, 4), lboz(1, 4), lboz(0, 10)
	for _, row := range []struct {
		id, source string
		test       CuttingTest
		want       string
	}{
		{"E-C1", "textbook exercise [read], answers computed", rib(),
			"cost $123.61, secondary $10.18, net $113.44, loss 0.25 lb, saleable 22.00 lb, yield 56.8 %, $5.16 a pound, $0.3223 an ounce, factor 1.6163"},
		{"E-C2", "textbook exercise [read], answers computed", cooked,
			"cost $123.61, secondary $10.18, net $113.44, loss 0.25 lb, saleable 19.00 lb, yield 49.0 %, $5.97 a pound, $0.3731 an ounce, factor 1.8716, portion $3.73, 1.1697, cooking 1.75 lb = 8.0 %"},
		{"E-C4", "handout page [read], whose net of 22.40 and ÷ for × are misprints",
			CuttingTest{Bought: 28 * unit.Pound, Price: 130, Usable: 16 * unit.Pound, Parts: []TestPart{{"fat", 3 * unit.Pound, 10}, {"bones", 4 * unit.Pound, 30}, {"trim", 5 * unit.Pound, 130}}},
			"cost $36.40, secondary $8.00, net $28.40, loss 0.00 lb, saleable 16.00 lb, yield 57.1 %, $1.78 a pound, $0.1109 an ounce, factor 1.3654"},
		{"E-C5", "computed",
			CuttingTest{Bought: 92 * unit.Pound, Price: 320, Usable: 48 * unit.Pound, Parts: []TestPart{{"fat", 9 * unit.Pound, 50}, {"skin", 4 * unit.Pound, 0},
				{"bones", lboz(8, 8), 75}, {"sausage trim", 14 * unit.Pound, 275}, {"jowl, feet, hock", lboz(7, 8), 150}}},
			"cost $294.40, secondary $60.63, net $233.78, loss 1.00 lb, saleable 48.00 lb, yield 52.2 %, $4.87 a pound, $0.3044 an ounce, factor 1.5220"},
		{"E-C7", "computed", CuttingTest{Bought: 12 * unit.Pound, Price: 100, Usable: 7 * unit.Pound, Parts: []TestPart{{"trim", 5 * unit.Pound, 300}}},
			"cost $12.00, secondary $15.00, net -$3.00, loss 0.00 lb, saleable 7.00 lb, yield 58.3 %, -$0.43 a pound, -$0.0268 an ounce, factor -0.4286; the by-products are worth as much as the piece cost or more: the primary part costs nothing or less"},
	} {
		r, err := row.test.Reckon()
		if err != nil {
			t.Errorf("%s: %v", row.id, err)
			continue
		}
		got := fmt.Sprintf("cost %s, secondary %s, net %s, loss %s, saleable %s, yield %s, %s a pound, %s an ounce, factor %.4f",
			r.Cost, r.Secondary, r.Net, r.Loss.LB(), r.Saleable.LB(), r.Yield.Pct(1), r.PerPound, r.PerOunce, r.Factor.Float())
		if r.PortionCost != 0 {
			got += fmt.Sprintf(", portion %s, %.4f, cooking %s = %s", r.PortionCost, r.PortionFact.Float(), r.CookingLoss.LB(), r.CookingShare.Pct(1))
		}
		if len(r.Notes) > 0 {
			got += "; " + strings.Join(r.Notes, "; ")
		}
		if got != row.want {
			t.Errorf("%s (%s)\n got %s\nwant %s", row.id, row.source, got, row.want)
		}
		if row.id == "E-C2" { // E-C3: the dealer's price becomes 3.49; computed
			if pound, portion := r.At(349); pound != 653 || portion != 408 {
				t.Errorf("E-C3: %s a pound, %s a portion; want $6.53 and $4.08", pound, portion)
			}
			// Nine: bought weight = portions × size ÷ yield. 30 × 10 oz at 19.0 of 38.75.
			near(t, "to buy", r.ToBuy(30, 10*unit.Ounce), lbs(30*10./16*38.75/19))
		}
	}
}

// E-C6 and the other edges: what cannot be weighed so is refused by the field's name.
func TestCuttingTestFaults(t *testing.T) {
	for _, row := range []struct {
		id     string
		change func(*CuttingTest)
		want   string
	}{
		{"E-C6", func(c *CuttingTest) {
			*c = CuttingTest{Bought: 30 * unit.Pound, Usable: 18 * unit.Pound, Parts: []TestPart{{"a", 9 * unit.Pound, 0}, {"b", lboz(3, 8), 0}}}
		}, "usable: weighed more than bought: 30.50 lb of 30.00 lb"},
		{"usable 0", func(c *CuttingTest) { c.Usable = 0 }, "usable: nothing usable is left: there is no cost of a usable pound"},
		{"nothing bought", func(c *CuttingTest) { c.Bought = 0 }, "bought: what was bought weighs more than nothing and at most 3000.00 lb"},
		{"no name", func(c *CuttingTest) { c.Parts[1].Name = "" }, "parts[1].name: a part needs a name"},
		{"gained in the oven", func(c *CuttingTest) { c.Cooked = lboz(22, 1) }, "cooked: cooked meat weighs more than nothing and no more than it did raw"},
		{"carved to nothing", func(c *CuttingTest) { c.Cooked, c.Carving = 20*unit.Pound, 20*unit.Pound }, "carving: what is carved off weighs less than the joint"},
		{"a price below zero", func(c *CuttingTest) { c.Price = -1 }, "price: a price a pound lies between $0.00 and $10000.00"},
	} {
		c := rib()
		row.change(&c)
		if _, err := c.Reckon(); err == nil || err.Error() != row.want {
			t.Errorf("%s: %v, want %s", row.id, err, row.want)
		}
	}
}

// Laws: what is bought is weighed out or lost, to the nanogram; the net cost is within
// a cent of cost less by-products; dearer by-products never make the primary dearer.
func TestCuttingTestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := CuttingTest{Bought: grams(t, "bought", 1000, 200_000), Price: unit.Money(rapid.IntRange(0, 5000).Draw(t, "price"))}
		left := c.Bought
		for i := range rapid.IntRange(0, 6).Draw(t, "parts") {
			w := min(grams(t, "part", 0, 30_000), left/2)
			left -= w
			c.Parts = append(c.Parts, TestPart{fmt.Sprint("part ", i), w, unit.Money(rapid.IntRange(0, 2000).Draw(t, "part price"))})
		}
		c.Usable = left - min(grams(t, "lost", 0, 500), left-1)
		r, err := c.Reckon()
		if err != nil {
			t.Fatal(err)
		}
		if r.Parts+r.Usable+r.Loss != c.Bought || r.Loss < 0 {
			t.Fatalf("bought %s, weighed %s + %s, lost %s", c.Bought, r.Parts, r.Usable, r.Loss)
		}
		if d := r.Cost - r.Secondary - r.Net; d < -1 || d > 1 {
			t.Fatalf("%s − %s is not %s", r.Cost, r.Secondary, r.Net)
		}
		if len(c.Parts) > 0 {
			dear := c
			dear.Parts = append([]TestPart{}, c.Parts...)
			dear.Parts[0].Price += 100
			if s, err := dear.Reckon(); err != nil || s.Net > r.Net || s.PerPound > r.PerPound {
				t.Fatalf("a dearer by-product: %v, %s then %s", err, r.Net, s.Net)
			}
		}
		if again, _ := r.At(c.Price); c.Price > 0 && again != r.PerPound {
			t.Fatalf("at its own price %s, not %s", again, r.PerPound)
		}
	})
}

func grams(t *rapid.T, name string, lo, hi int) unit.Weight {
	return unit.Weight(rapid.IntRange(lo, hi).Draw(t, name)) * unit.Gram
}
