package shop

import (
	"encoding/json"
	"fmt"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// CutValue is what a pound of one cut sells for over the counter (R42).
type CutValue struct {
	Cut   string     `json:"cut"`
	Cents unit.Money `json:"cents"`
}

// ValueOf is what a pound of a cut sells for, or 0 when the list does not name it.
func (r Rules) ValueOf(cut string) unit.Money {
	for _, v := range r.Values {
		if v.Cut == cut {
			return v.Cents
		}
	}
	return 0
}

// Worth is what cuts sell for by the value list, each line rounded to a cent.
func (r Rules) Worth(cuts []carcass.Cut) unit.Money {
	var sum unit.Money
	for _, c := range cuts {
		sum += r.ValueOf(c.Name).PerPound(c.Weight)
	}
	return sum
}

// SlabRule is how this shop cuts bellies into slabs (R16).
func (r Rules) SlabRule() carcass.SlabRule {
	return carcass.SlabRule{Mode: carcass.Equal, Min: r.SlabMin, Max: r.SlabMax, Fixed: r.SlabFixed}
}

// Skin says how a belly is cut.
func Skin(on bool) carcass.Skin {
	if on {
		return carcass.SkinOn
	}
	return carcass.Skinless
}

// AnimalOf is the animal whose meat a species word names: the shop sells pork, the farm
// brings pigs.
func AnimalOf(species string) string {
	if species == "pork" {
		return "pig"
	}
	return species
}

// AnimalsIn writes a count of animals: "1 pig", "4 pigs", "2 deer".
func AnimalsIn(species string, n int) string {
	word := AnimalOf(species)
	switch {
	case n == 1, word == "deer":
	case word == "beef":
		word = "head of beef"
	default:
		word += "s"
	}
	return fmt.Sprintf("%d %s", n, word)
}

// Carcass is the profile as planner/carcass reckons with it; farm is the name shown.
func (p YieldProfile) Carcass(farm string) (carcass.Profile, error) {
	c := carcass.Profile{Farm: farm, Breed: p.Breed, Species: AnimalOf(p.Species), HCW: p.HCW, Shrink: p.Shrink,
		Belly: p.Belly, Squaring: p.Squaring, Skin: p.Skin, Source: p.Source, SampleSize: p.SampleSize}
	if p.Cuts == "" {
		return c, nil
	}
	var cuts []struct {
		Name  string
		Share unit.Ratio
	}
	if err := json.Unmarshal([]byte(p.Cuts), &cuts); err != nil {
		return c, fmt.Errorf("yield of %s, %s: %w", farm, p.Breed, err)
	}
	for _, cut := range cuts {
		c.Rest = append(c.Rest, carcass.CutShare{Cut: cut.Name, Share: cut.Share})
	}
	return c, nil
}

// Started is the profile the farm's figures started from: the row itself until the owner
// has taken over what its own animals say.
func (p YieldProfile) Started(farm string) (carcass.Profile, error) {
	if p.Prior == "" {
		return p.Carcass(farm)
	}
	var c carcass.Profile
	if err := json.Unmarshal([]byte(p.Prior), &c); err != nil {
		return c, fmt.Errorf("first yield of %s, %s: %w", farm, p.Breed, err)
	}
	return c, nil
}

// CutsJSON writes shares of cuts as a profile keeps them.
func CutsJSON(cuts []carcass.CutShare) (string, error) {
	type share struct {
		Name  string     `json:"name"`
		Share unit.Ratio `json:"share"`
	}
	rows := make([]share, len(cuts))
	for i, c := range cuts {
		rows[i] = share{c.Cut, c.Share}
	}
	b, err := json.Marshal(rows)
	return string(b), err
}
