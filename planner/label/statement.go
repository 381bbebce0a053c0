package label

import (
	"cmp"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// An Ingredient is one name on the list: by itself, or made of parts.
type Ingredient struct {
	Name  string
	Parts []Ingredient // as its maker lists them, heaviest first
}

// String is the ingredient as it is printed: "soy sauce (water, soybeans)".
func (i Ingredient) String() string {
	if len(i.Parts) == 0 {
		return i.Name
	}
	var parts []string
	for _, p := range i.Parts {
		parts = append(parts, p.String())
	}
	return i.Name + " (" + strings.Join(parts, ", ") + ")"
}

// A Part is an ingredient with the weight of it that went in.
type Part struct {
	Ingredient
	Weight unit.Weight
}

// CuringSalt is what a weight of curing salt puts on a slab: nitrite and nitrate by the
// shares its lot's label gives, and salt, which is all the rest of it.
func CuringSalt(w unit.Weight, nitrite, nitrate unit.Ratio) []Part {
	no2, no3 := w.Share(nitrite), w.Share(nitrate)
	return []Part{
		{Ingredient{Name: "salt"}, w - no2 - no3},
		{Ingredient{Name: "sodium nitrite"}, no2},
		{Ingredient{Name: "sodium nitrate"}, no3},
	}
}

// Statement puts parts in order of weight, heaviest first; the same plain ingredient
// from two sources is one. What weighs nothing is left out; equal weights keep their order.
func Statement(parts []Part) []Ingredient {
	var sum []Part
	for _, p := range parts {
		if p.Weight <= 0 {
			continue
		}
		i := slices.IndexFunc(sum, func(s Part) bool { return len(s.Parts) == 0 && len(p.Parts) == 0 && strings.EqualFold(s.Name, p.Name) })
		if i < 0 {
			sum = append(sum, p)
			continue
		}
		sum[i].Weight += p.Weight
	}
	slices.SortStableFunc(sum, func(a, b Part) int { return cmp.Compare(b.Weight, a.Weight) })
	out := make([]Ingredient, len(sum))
	for i, p := range sum {
		out[i] = p.Ingredient
	}
	return out
}

// Parse reads a list as people write it, "garlic, soy sauce (water, soybeans), pepper";
// brackets hold what the thing before them is made of.
func Parse(list string) []Ingredient {
	var out []Ingredient
	depth, from := 0, 0
	add := func(s string) {
		if s = strings.TrimSpace(s); s == "" {
			return
		}
		name, inside, made := strings.Cut(s, "(")
		in := Ingredient{Name: strings.Join(strings.Fields(name), " ")}
		if made {
			in.Parts = Parse(strings.TrimSuffix(strings.TrimSpace(inside), ")"))
		}
		if in.Name != "" {
			out = append(out, in)
		}
	}
	for i, r := range list {
		switch r {
		case '(':
			depth++
		case ')':
			depth--
		case ',', ';':
			if depth == 0 {
				add(list[from:i])
				from = i + 1
			}
		}
	}
	add(list[from:])
	return out
}

// Blend is a jar of several things as one ingredient; of one thing it is that thing.
func Blend(name string, contents []Ingredient) Ingredient {
	if len(contents) == 1 {
		return contents[0]
	}
	return Ingredient{Name: name, Parts: contents}
}
