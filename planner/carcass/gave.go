package carcass

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Gave is how many bellies of a lot gave so many slabs, cut one way.
type Gave struct {
	Slabs   int // a belly
	Skin    Skin
	Bellies int
}

// Tally counts bellies by the slabs they give and how they are cut: most slabs first,
// skinless before skin on.
func Tally(cuts []BellyCut) []Gave {
	var out []Gave
	for _, c := range cuts {
		i := slices.IndexFunc(out, func(g Gave) bool { return g.Slabs == c.Slabs.Count && g.Skin == c.Skin })
		if i < 0 {
			i, out = len(out), append(out, Gave{Slabs: c.Slabs.Count, Skin: c.Skin})
		}
		out[i].Bellies++
	}
	slices.SortFunc(out, func(a, b Gave) int {
		return cmp.Or(b.Slabs-a.Slabs, int(a.Skin)-int(b.Skin))
	})
	return out
}

// Tell says how bellies cut, for whoever raised the animals: "32 bellies of 34 gave three
// slabs skinless, 2 only with the skin on". Skin on is told as "only" where the same
// bellies would have given fewer without; no bellies give no sentence.
func (p Profile) Tell(r SlabRule, cuts []BellyCut) string {
	if len(cuts) == 0 {
		return ""
	}
	fewer := func(g Gave) bool {
		for _, c := range cuts {
			if c.Skin == g.Skin && c.Slabs.Count == g.Slabs && p.CutBelly(r, c.Belly, Skinless).Slabs.Count >= g.Slabs {
				return false
			}
		}
		return true
	}
	var parts []string
	last := -1
	for i, g := range Tally(cuts) {
		how := "skinless"
		if g.Skin == SkinOn {
			how = "with the skin on"
			if fewer(g) {
				how = "only with the skin on"
			}
		}
		if g.Slabs == last { // the number of slabs was just said
			parts = append(parts, fmt.Sprintf("%d %s", g.Bellies, how))
			continue
		}
		last = g.Slabs
		of := ""
		if i == 0 {
			word := "bellies"
			if g.Bellies == 1 && len(cuts) == 1 {
				word = "belly"
			}
			of = fmt.Sprintf(" %s of %d", word, len(cuts))
		}
		parts = append(parts, fmt.Sprintf("%d%s gave %s %s", g.Bellies, of, slabWord(g.Slabs), how))
	}
	return strings.Join(parts, ", ")
}

var numberWords = [...]string{"no", "one", "two", "three", "four", "five", "six"}

func slabWord(n int) string {
	word := fmt.Sprint(n)
	if n < len(numberWords) {
		word = numberWords[n]
	}
	if n == 1 {
		return word + " slab"
	}
	return word + " slabs"
}
