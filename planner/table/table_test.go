package table

import (
	"math/rand/v2"
	"reflect"
	"testing"
)

// The allergens asked for (R12): the nine of US label law (FALCPA 2004; FASTER Act 2021
// for sesame) and three that hide in spices.
var rules = Rules{WineAge: 21, Grown: 18,
	Order: []string{"milk", "egg", "fish", "shellfish", "tree nut", "peanut", "wheat", "soy", "sesame", "mustard", "celery", "sulphite"}}

// eight is the pig clinic D1 of the invented shop: outcome M4.
func eight() []Person {
	return []Person{
		{Answer: None}, {Answer: List, Needs: []Need{{"wheat", true, "coeliac"}}}, {Answer: None}, {Answer: None},
		{Answer: List, Needs: []Need{{"other", false, "vegetarian"}}}, {Answer: List, Needs: []Need{{"other", false, "Pregnant"}}},
		{Answer: None}, {},
	}
}

// Outcome M4: "1 vegetarian, 1 pregnant, 1 wheat (coeliac), 4 none, 1 not told; the
// total is 8."
func TestEight(t *testing.T) {
	c := Of(eight(), rules)
	want := "1 wheat (coeliac), severe · 1 pregnant · 1 vegetarian · 4 none · 1 not told · 8 in all"
	if c.String() != want {
		t.Errorf("Of = %s\nwant %s", c, want)
	}
	if c.Heads != 8 || c.None != 4 || c.List != 3 || c.NotTold != 1 || !reflect.DeepEqual(c.Severe(), []string{"wheat"}) {
		t.Errorf("%+v", c)
	}
	if err := c.Check().Err(); err != nil {
		t.Error(err)
	}
}

// R12: "none" and "nobody asked" must never look the same; what contradicts itself is
// asked again, or shown, never dropped.
func TestSettled(t *testing.T) {
	milk := []Need{{What: "milk"}}
	for name, tc := range map[string]struct {
		p    Person
		want Answer
	}{
		"nothing known":        {Person{}, NotTold},
		"none":                 {Person{Answer: None}, None},
		"a list":               {Person{Answer: List, Needs: milk}, List},
		"an empty list":        {Person{Answer: List}, NotTold},
		"none, yet milk":       {Person{Answer: None, Needs: milk}, List},
		"not told, yet milk":   {Person{Needs: milk}, List},
		"no such answer known": {Person{Answer: 9}, NotTold},
	} {
		if got := tc.p.Settled(); got != tc.want {
			t.Errorf("%s: %v, want %v", name, got, tc.want)
		}
	}
}

func TestLines(t *testing.T) {
	for _, tc := range []struct {
		name   string
		people []Person
		want   string
	}{
		{"nobody", nil, "0 none · 0 not told · 0 in all"},
		{"one person, two needs: one head", []Person{{Needs: []Need{{What: "sesame"}, {What: "milk"}}}}, "1 milk · 1 sesame · 0 none · 0 not told · 1 in all"},
		{"one need twice: one person, severe if either", []Person{{Needs: []Need{{"milk", false, ""}, {"Milk ", true, "cheese too"}}}}, "1 milk (cheese too), severe · 0 none · 0 not told · 1 in all"},
		{"some severe", []Person{{Needs: []Need{{"egg", true, "own pen"}}}, {Needs: []Need{{"egg", false, "raw only"}}}, {Needs: []Need{{"egg", false, "Own pen"}}}}, "3 egg (Own pen; raw only), 1 of them severe · 0 none · 0 not told · 3 in all"},
		{"severe other before mild milk", []Person{{Needs: []Need{{"milk", false, ""}}}, {Needs: []Need{{"other", true, "red meat"}}}}, "1 red meat, severe · 1 milk · 0 none · 0 not told · 2 in all"},
		{"other without a word", []Person{{Needs: []Need{{"other", false, " "}}}}, "1 other, not said what · 0 none · 0 not told · 1 in all"},
		{"the same words, spaced and cased otherwise", []Person{{Needs: []Need{{"other", false, "No  Pork"}}}, {Needs: []Need{{"other", false, "no pork"}}}}, "2 no pork · 0 none · 0 not told · 2 in all"},
	} {
		c := Of(tc.people, rules)
		if c.String() != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", tc.name, c, tc.want)
		}
		if err := c.Check().Err(); err != nil {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
}

// R11: wine is counted for 21 and over who said yes.
func TestWineAndMinors(t *testing.T) {
	c := Of([]Person{{Wine: true}, {Wine: true, Age: 21}, {Wine: true, Age: 20}, {Wine: true, Age: 17}, {Age: 44}, {Age: 18}, {Age: 9, Watch: true}}, rules)
	if c.Wine != 2 || c.NoAge != 1 || c.Minors != 2 || c.Watch != 1 {
		t.Errorf("wine %d (%d gave no age), minors %d, watching %d; want 2 (1), 2, 1", c.Wine, c.NoAge, c.Minors, c.Watch)
	}
}

// TestAnyTable: whoever sits down in whatever order, the count adds up and is the same.
func TestAnyTable(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 14))
	for range 300 {
		var people []Person
		for range r.IntN(13) {
			p := Person{Answer: Answer(r.IntN(3)), Wine: r.IntN(2) == 0, Age: r.IntN(40)}
			for range r.IntN(4) * r.IntN(2) {
				p.Needs = append(p.Needs, Need{append(rules.Order, "other")[r.IntN(13)], r.IntN(3) == 0, []string{"", "a little", "vegetarian"}[r.IntN(3)]})
			}
			people = append(people, p)
		}
		c := Of(people, rules)
		if err := c.Check().Err(); err != nil {
			t.Fatalf("%+v: %v", people, err)
		}
		r.Shuffle(len(people), func(i, j int) { people[i], people[j] = people[j], people[i] })
		if got := Of(people, rules); !reflect.DeepEqual(got, c) {
			t.Fatalf("in another order:\n%s\n%s", got, c)
		}
	}
}

func TestCheckSeesAWrongCount(t *testing.T) {
	good := Of(eight(), rules)
	for name, spoil := range map[string]func(*Count){
		"somebody counted twice": func(c *Count) { c.None++ },
		"the untold forgotten":   func(c *Count) { c.NotTold = 0 },
		"a list of nothing":      func(c *Count) { c.Lines = c.Lines[:2] },
		"more severe than sick":  func(c *Count) { c.Lines[0].Severe = 2 },
		"more wine than heads":   func(c *Count) { c.Wine = 9 },
	} {
		c := good
		c.Lines = append([]Line(nil), good.Lines...)
		spoil(&c)
		if c.Check().Err() == nil {
			t.Errorf("%s: not seen", name)
		}
	}
}
