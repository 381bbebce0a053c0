package store

import (
	"context"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// PacketLabel is what stands on a packet, from the slab's own record and nothing else.
type PacketLabel struct {
	Tag         string
	Ingredients []PacketIngredient // heaviest first
	Contains    []string           // allergens
	Net         unit.Weight
	PackedOn    unit.Day
	UseBy       unit.Day
	Handling    string // the shop's safe-handling words
	Shop        string
	Frozen      bool // re-labelled for the freezer: use by counts from freezing
}

// PacketIngredient is one word of the list; Allergen is printed bold.
type PacketIngredient struct {
	Text     string
	Allergen bool
}

// Packet reads a packed slab's label. Without a finished weight, a known spice or the
// shop's safe-handling words there is no label: no record, no label.
func (s *Store) Packet(ctx context.Context, tag string) (*PacketLabel, error) {
	v, err := s.Slab(ctx, tag)
	if err != nil {
		return nil, err
	}
	switch v.State {
	case shop.Packed, shop.OnShelf, shop.InFreezer:
	case shop.OnHold:
		return nil, shop.ErrOnHold.Saying("%s is on hold: no label until it is released.", v.Tag)
	default:
		return nil, shop.Stop("not_packed", "%s is %q: a label is for a packed slab.", v.Tag, v.State)
	}
	if trim(s.Rules.Handling) == "" {
		return nil, shop.Stop("no_handling", "The shop's safe-handling words are not entered yet, and raw bacon may not leave without them.")
	}
	if v.Finished <= 0 || v.UseBy == 0 || v.JarID == 0 && v.Ask {
		return nil, shop.Stop("no_record", "%s has no full record: no label.", v.Tag)
	}
	l := &PacketLabel{Tag: v.Tag, Net: v.Finished, PackedOn: v.PackedOn, UseBy: v.UseBy, Handling: s.Rules.Handling, Shop: s.Config.Shop, Frozen: v.State == shop.InFreezer}
	for _, w := range []string{"pork belly", "salt", "sugar", "curing salt (salt, sodium nitrite)"} {
		l.Ingredients = append(l.Ingredients, PacketIngredient{Text: w})
	}
	var contents string
	if err := s.read(ctx).Raw("SELECT contents FROM jars WHERE id = ?", v.JarID).Scan(&contents).Error; err != nil {
		return nil, err
	}
	for a := range strings.SplitSeq(v.Allergens, ",") {
		if a = trim(a); a != "" {
			l.Contains = append(l.Contains, a)
		}
	}
	for c := range strings.SplitSeq(contents, ",") {
		if c = trim(c); c == "" {
			continue
		}
		in := PacketIngredient{Text: c}
		for _, a := range l.Contains {
			in.Allergen = in.Allergen || strings.Contains(strings.ToLower(c), strings.ToLower(a))
		}
		l.Ingredients = append(l.Ingredients, in)
	}
	return l, nil
}
