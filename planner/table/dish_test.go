package table

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// menu is the invented shop's dinner (its own list of dishes and what they hold).
var menu = []Dish{
	{Name: "roast"}, {Name: "potatoes"}, {Name: "bread", Holds: []string{"wheat"}},
	{Name: "ham", Board: "board"}, {Name: "nut sausage", Holds: []string{"tree nut"}, Board: "board"},
	{Name: "mustard", Holds: []string{"mustard"}, Board: "board"}, {Name: "cheese", Holds: []string{"milk"}, Board: "board"},
}

func named(laid []Laid, name string) Laid {
	return laid[slices.IndexFunc(laid, func(l Laid) bool { return l.Name == name })]
}

// The eight of outcome M4: a severe wheat takes the bread away for the whole table (house
// rule R13); vegetarian and pregnant are questions no list of allergens answers; the one
// who has not told is asked at every dish.
func TestDishesOfEight(t *testing.T) {
	c := Of(eight(), rules)
	laid := Cross(eight(), c, rules, menu)
	if err := CheckLaid(c, laid).Err(); err != nil {
		t.Error(err)
	}
	bread, roast := named(laid, "bread"), named(laid, "roast")
	if !reflect.DeepEqual(bread.Away, []string{"wheat"}) || bread.Cannot != 1 || !reflect.DeepEqual(bread.Marks, []Mark{Holds, Ask, Ask}) {
		t.Errorf("bread: %+v", bread)
	}
	if roast.Away != nil || roast.Cannot != 0 || roast.Unsure != 3 || !reflect.DeepEqual(roast.Marks, []Mark{Free, Ask, Ask}) {
		t.Errorf("roast: %+v", roast)
	}
}

// A mild need is a mark on the person alone; what lies on one board touches. A dish that
// went away for somebody else touches nothing any more.
func TestDishesOnABoard(t *testing.T) {
	people := []Person{{Answer: List, Needs: []Need{{What: "milk"}, {What: "mustard"}}}, {Answer: None}}
	c := Of(people, rules)
	laid := Cross(people, c, rules, menu)
	for name, want := range map[string][]Mark{"cheese": {Holds, Touches}, "mustard": {Touches, Holds}, "ham": {Touches, Touches}, "bread": {Free, Free}} {
		if l := named(laid, name); !reflect.DeepEqual(l.Marks, want) || l.Away != nil || l.Cannot != min(1, int(slices.Max(want))) {
			t.Errorf("%s: %+v, want %v", name, l, want)
		}
	}
	people = append(people, Person{Answer: List, Needs: []Need{{What: "milk", Severe: true}}})
	c = Of(people, rules)
	laid = Cross(people, c, rules, menu)
	if l := named(laid, "ham"); !reflect.DeepEqual(l.Marks, []Mark{Free, Touches}) || l.Cannot != 1 {
		t.Errorf("ham without the cheese: %+v", l)
	}
	if l := named(laid, "cheese"); !reflect.DeepEqual(l.Away, []string{"milk"}) || l.Cannot != 2 {
		t.Errorf("cheese: %+v", l)
	}
}

// Any table, any menu: the check passes, the order of the people makes no difference, and
// who said none is never in a count.
func TestDishesOfAnyTable(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 8))
	kept := 0
	for range 2000 {
		var people []Person
		for range r.IntN(12) {
			p := Person{Answer: Answer(r.IntN(3))}
			for range r.IntN(3) {
				what := append(slices.Clone(rules.Order), Other, "")[r.IntN(len(rules.Order)+2)]
				p.Needs = append(p.Needs, Need{What: what, Severe: r.IntN(3) == 0, Words: []string{"", "vegan", "milk"}[r.IntN(3)]})
			}
			people = append(people, p)
		}
		var dishes []Dish
		for i := range r.IntN(8) {
			d := Dish{Name: string(rune('a' + i)), Board: []string{"", "x"}[r.IntN(2)]}
			for range r.IntN(3) {
				d.Holds = append(d.Holds, rules.Order[r.IntN(len(rules.Order))])
			}
			dishes = append(dishes, d)
		}
		c := Of(people, rules)
		laid := Cross(people, c, rules, dishes)
		if err := CheckLaid(c, laid).Err(); err != nil {
			t.Fatalf("%v\n%+v\n%+v", err, people, laid)
		}
		r.Shuffle(len(people), func(i, j int) { people[i], people[j] = people[j], people[i] })
		if again := Cross(people, Of(people, rules), rules, dishes); !reflect.DeepEqual(laid, again) {
			t.Fatalf("in another order\n%+v\n%+v", laid, again)
		}
		for _, l := range laid {
			if l.Cannot+l.Unsure > c.Heads-c.None {
				t.Fatalf("%d of %d people with none", l.Cannot+l.Unsure, c.None)
			}
			kept += len(l.Away)
		}
	}
	if kept < 100 {
		t.Errorf("only %d dishes were kept away: too little to prove anything", kept)
	}
}
