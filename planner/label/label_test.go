package label

import (
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

func grams(f float64) unit.Weight             { return unit.WeightOfGrams(f) }
func day(y int, m time.Month, d int) unit.Day { return unit.DayOf(y, m, d) }
func part(name string, f float64) Part        { return Part{Ingredient{Name: name}, grams(f)} }
func names(l []Ingredient) (out []string) {
	for _, i := range l {
		out = append(out, i.String())
	}
	return
}
func said(l []Allergen) string {
	var out []string
	for _, a := range l {
		out = append(out, a.String())
	}
	return strings.Join(out, ", ")
}

// Dates, with their sources. E-P5 and E-P12, days in cure, stand with planner/cure.
func TestDates(t *testing.T) {
	for _, r := range []struct {
		id, source, tag string
		packed          unit.Day
		life            Life
		frozen          int
		want            unit.Day
	}{
		{"E-P1", "Food Code 3-502.12 as Wis. ATCP 75 App.", "read", day(2025, 3, 3), FoodCodeLife, 0, day(2025, 4, 2)},
		{"E-P2", "same: frozen time is not counted", "read", day(2025, 3, 3), FoodCodeLife, 12, day(2025, 4, 14)},
		{"E-P3", "same; calendar: leap year", "read, date computed", day(2024, 2, 10), FoodCodeLife, 0, day(2024, 3, 11)},
		{"E-P4", "same; calendar: short February", "read, date computed", day(2025, 1, 31), FoodCodeLife, 0, day(2025, 3, 2)},
		{"E-P11", "Nevada 446.184; Minnesota 4626.0420 (2014 text)", "read", day(2025, 9, 8), ShortLife, 0, day(2025, 9, 22)},
	} {
		if got := r.life.DiscardAfter(r.packed, r.frozen); got != r.want {
			t.Errorf("%s (%s, [%s]): %s, want %s", r.id, r.source, r.tag, got, r.want)
		}
	}
	// The shop's own 21 days (house rule) never run past the place's rule.
	packed := day(2026, 11, 14)
	if got := UseBy(packed, 21, FoodCodeLife); got != day(2026, 12, 5) {
		t.Errorf("21 days: %s", got)
	}
	if got := UseBy(packed, 21, ShortLife); got != day(2026, 11, 28) {
		t.Errorf("21 days where 14 are the rule: %s", got)
	}
	for _, r := range []struct {
		frozen unit.Day
		life   Life
		want   int
	}{{packed + 14, FoodCodeLife, 7}, {packed + 27, FoodCodeLife, 3}, {packed + 10, ShortLife, 4}, {packed + 16, ShortLife, 0}} {
		if got := Thawed(packed, r.frozen, 7, r.life); got != r.want {
			t.Errorf("frozen %s under %d days: %d days once thawed, want %d", r.frozen, r.life.Days, got, r.want)
		}
	}
}

// 9 CFR 319.107 [read]: cured belly ready for slicing must not weigh more than the fresh.
func TestName(t *testing.T) {
	for _, r := range []struct {
		id           string
		green, ready float64
		bacon        bool
	}{{"E-P6", 2270, 2301, false}, {"E-P13", 2340, 2340, true}, {"ordinary", 2000, 1700, true}, {"no weight", 2000, 0, false}} {
		name, err := Name(grams(r.green), grams(r.ready))
		if (name == "Bacon") != r.bacon || (err == nil) != r.bacon {
			t.Errorf("%s: %q, %v", r.id, name, err)
		}
	}
}

// E-P7 (order by weight: Utah ag. dept. label page [read]). The row prints salt 56.7 g,
// which is already the sum: 51.44 g of plain salt and 5.31 g out of 5.664 g of curing salt
// at 6.25 % make 56.75, the row's figure being cut to a tenth.
func TestStatement(t *testing.T) {
	cure := CuringSalt(grams(5.664), 62_500, 0)
	if got := cure[0].Weight.G(2) + ", " + cure[1].Weight.G(3); got != "5.31 g, 0.354 g" {
		t.Errorf("5.664 g of curing salt are %s", got)
	}
	parts := append([]Part{part("black pepper", 18.2), part("sugar", 22.7), part("salt", 51.44), part("pork belly", 2270), part("maple sugar", 45.4)}, cure...)
	if got := strings.Join(names(Statement(parts)), ", "); got != "pork belly, salt, maple sugar, sugar, black pepper, sodium nitrite" {
		t.Errorf("E-P7: %s", got)
	}
	// Salt joins from both sources: without the cure's share it would stand after the sugar.
	parts = append([]Part{part("salt", 20), part("sugar", 23), part("pork belly", 2000)}, cure...)
	if got := strings.Join(names(Statement(parts)), ", "); got != "pork belly, salt, sugar, sodium nitrite" {
		t.Errorf("joined salt: %s", got)
	}
	// A blend stands once, by its whole weight, with its parts in brackets; garlic by name
	// (9 CFR 317.2(f) [memory]); a jar of one thing is that thing.
	blend := Part{Blend("garlic & paprika", Parse("garlic, smoked paprika,black pepper")), grams(24)}
	parts = append([]Part{part("pork belly", 2000), part("salt", 44), part("sugar", 22), blend}, cure...)
	if got := strings.Join(names(Statement(parts)), ", "); got != "pork belly, salt, garlic & paprika (garlic, smoked paprika, black pepper), sugar, sodium nitrite" {
		t.Errorf("blend: %s", got)
	}
	if got := Blend("pepper", Parse("black pepper")).String(); got != "black pepper" {
		t.Errorf("a jar of one thing: %s", got)
	}
	if got := strings.Join(names(Parse(" rub (soy sauce (water, soybeans, wheat, salt), garlic) ,, sage; bay ")), "|"); got != "rub (soy sauce (water, soybeans, wheat, salt), garlic)|sage|bay" {
		t.Errorf("parsed: %s", got)
	}
	for _, odd := range []string{"", ",,", "(", ")", "a (b", "a) b, c", "((("} {
		Parse(odd) // whatever is typed, it does not fall over
	}
}

// The nine of FALCPA 2004 and the FASTER Act 2021 [read]; nut, fish and shellfish by kind.
func TestAllergens(t *testing.T) {
	for _, r := range []struct{ id, list, written, want, ask string }{
		{"E-P8", "soy sauce (water, soybeans, wheat, salt), ginger", "", "wheat, soy", ""},
		{"by kind", "chopped pecans, almond butter", "", "tree nut (pecan, almond)", ""},
		{"nut without a kind", "mixed nuts, salt", "tree nut", "tree nut", "which tree nut it is"},
		{"fish by kind", "anchovies, parsley", "fish", "fish (anchovy)", ""},
		{"fish without a kind", "fish sauce", "", "fish", "which fish it is"},
		{"shellfish", "dried shrimp", "", "shellfish (shrimp)", ""},
		{"written down only", "secret blend", "sesame", "sesame", ""},
		{"not in law, still said", "mustard seed, honey powder", "mustard", "mustard", ""},
		{"names that sound like it", "nutmeg, cocoa butter, buckwheat, cream of tartar, coconut milk, butternut squash", "", "", ""},
		{"milk in its forms", "whey powder", "", "milk", ""},
		{"peanut is no tree nut and no milk", "peanut butter", "", "peanut", ""},
		{"all nine", "milk, egg, cod, crab, walnut, peanut, wheat flour, soy, sesame", "", "milk, egg, fish (cod), shellfish (crab), tree nut (walnut), peanut, wheat, soy, sesame", ""},
		{"none", "black pepper, bay", "", "", ""},
	} {
		found, ask := Contains(Parse(r.list), strings.Split(r.written, ","))
		if said(found) != r.want || strings.Join(ask, ";") != r.ask {
			t.Errorf("%s: contains %q, asks %q; want %q, %q", r.id, said(found), ask, r.want, r.ask)
		}
	}
	found, _ := Contains(Parse("sesame seed, chilli flakes"), []string{"sesame"})
	if !Bold(Ingredient{Name: "sesame seed"}, found) || Bold(Ingredient{Name: "chilli flakes"}, found) {
		t.Error("bold is not the sesame alone")
	}
	if len(Nine) != 9 {
		t.Errorf("%d of nine", len(Nine))
	}
}

// Selling without inspection: FSIS "Knowing the Exemptions Regarding Inspection" [read];
// the 2025 limit 90 FR 11699 [read second-hand].
func TestRestaurants(t *testing.T) {
	for _, r := range []struct {
		id   string
		in   RestaurantSales
		says string
	}{
		{"E-P9", RestaurantSales{2025, 400_000_00, 95_000_00, 0}, ""},
		{"E-P9 at 25 %", RestaurantSales{2025, 400_000_00, 100_000_00, 0}, ""},
		{"over 25 %", RestaurantSales{2025, 400_000_00, 100_000_01, 0}, "25 %"},
		{"E-P10", RestaurantSales{2025, 500_000_00, 110_000_00, 0}, "limit of $103600.00"},
		{"at the limit", RestaurantSales{2025, 500_000_00, 103_600_00, 0}, ""},
		{"2015", RestaurantSales{2015, 400_000_00, 76_900_01, 0}, "$76900.00"},
		{"cured", RestaurantSales{2025, 400_000_00, 10_00, 10_00}, "cured"},
		{"a year not in the table", RestaurantSales{2030, 400_000_00, 10_00, 0}, "look it up"},
	} {
		err := r.in.Check()
		if (err == nil) != (r.says == "") || err != nil && !strings.Contains(err.Error(), r.says) {
			t.Errorf("%s: %v, want %q", r.id, err, r.says)
		}
	}
}

// E-P14: 9 CFR 317.16; Florida EDIS AN204 [read]. 3/8 in = 9.525 mm.
func TestCustomMark(t *testing.T) {
	if err := CustomMark(true, 9*Millimetre); err == nil || !strings.Contains(err.Error(), "9.525") || !strings.Contains(err.Error(), "9 mm") {
		t.Errorf("E-P14, 9 mm: %v", err)
	}
	if err := CustomMark(true, NotForSale); err != nil {
		t.Errorf("9.525 mm: %v", err)
	}
	if CustomMark(false, 20*Millimetre) == nil {
		t.Error("without the words")
	}
}

// E-P15: Food Code 3-502.11, 3-502.12 [read]; that own-cured belly needs a variance is
// derived, so the shop says whether its lack stops or warns.
func TestMayPack(t *testing.T) {
	for _, r := range []struct {
		id   string
		in   Packing
		want Answer
	}{
		{"E-P15 stop", Packing{Vacuum: true, OwnCured: true, Strict: true}, Block}, {"E-P15 warn", Packing{Vacuum: true, OwnCured: true}, Warn},
		{"on file", Packing{Vacuum: true, OwnCured: true, Variance: "V-26-11", Strict: true}, OK},
		{"cured at a plant", Packing{Vacuum: true, Strict: true}, OK}, {"in paper", Packing{OwnCured: true, Strict: true}, OK},
	} {
		got, why := MayPack(r.in)
		if got != r.want || (why == "") != (r.want == OK) {
			t.Errorf("%s: %s, %q", r.id, got, why)
		}
	}
}
