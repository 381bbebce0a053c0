package store

import (
	"context"
	"errors"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/label"
	"flitchbook/planner/unit"
)

// PacketLabel is what stands on a packet, from the slab's own record and nothing else.
type PacketLabel struct {
	Tag         string
	Name        string             // "Bacon", while it weighs no more than the fresh belly
	Ingredients []label.Ingredient // heaviest first
	Contains    []label.Allergen
	Net         unit.Weight
	PackedOn    unit.Day
	UseBy       unit.Day
	Handling    string // the shop's safe-handling words
	Shop        string
	Place       string
	Link        string // the slab's page for staff; whoever finds the packet learns nothing by it
	Warning     string // something to settle that does not stop the label
	Frozen      bool   // in the freezer: its label is the freezer's
	FrozenOn    unit.Day
	ThawDays    int // to be eaten within, once thawed
}

// life is the rule of the place for vacuum packs.
func (s *Store) life() label.Life {
	return label.Life{Days: s.Rules.PackDays, Source: "house rules"}
}

// labelMayPrint holds the shop's papers against how it packs: what stops, and what is only said.
func (s *Store) labelMayPrint() (warning string, err error) {
	switch a, why := label.MayPack(label.Packing{Vacuum: true, OwnCured: true, Variance: trim(s.Rules.Variance), Strict: s.Rules.VarianceStrict}); a {
	case label.Block:
		return "", shop.Stop("no_variance", "Nothing is packed: %s.", why)
	case label.Warn:
		return sentence(why) + ".", nil
	}
	return "", nil
}

// PackWarning is what the shop has to settle about how it packs, or "".
func (s *Store) PackWarning() string {
	warning, err := s.labelMayPrint()
	if e, ok := shop.AsError(err); ok {
		return e.Text
	}
	return warning
}

// Packet reads a packed slab's label. Without a finished weight, a weighed-out cure, a
// known spice or the shop's safe-handling words there is no label: no record, no label.
func (s *Store) Packet(ctx context.Context, tag string) (*PacketLabel, error) {
	at, err := s.Address(ctx)
	if err != nil {
		return nil, err
	}
	var l *PacketLabel
	err = s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(tag)
		if err != nil {
			return err
		}
		l, err = t.packet(sl, at.Place)
		return err
	})
	return l, err
}

func (t tx) packet(sl *shop.Slab, place string) (*PacketLabel, error) {
	switch sl.State {
	case shop.Packed, shop.OnShelf, shop.InFreezer:
	case shop.OnHold:
		return nil, shop.ErrOnHold.Saying("%s is on hold: no label until it is released.", sl.Tag)
	default:
		return nil, shop.Stop("not_packed", "%s is %q: a label is for a packed slab.", sl.Tag, sl.State)
	}
	if trim(t.s.Rules.Handling) == "" {
		return nil, shop.Stop("no_handling", "The shop's safe-handling words are not entered yet, and raw bacon may not leave without them. Copy them from the regulation into the house rules.")
	}
	if trim(t.s.Config.Shop) == "" || trim(place) == "" {
		return nil, shop.Stop("no_maker", "The shop's name and place are not entered yet, and both stand on every label.")
	}
	warning, err := t.s.labelMayPrint()
	if err != nil {
		return nil, err
	}
	list, written, err := t.ingredients(sl)
	if err != nil {
		return nil, err
	}
	if sl.Finished <= 0 || sl.UseBy == 0 || list == nil {
		return nil, shop.Stop("no_record", "%s has no full record: no label.", sl.Tag)
	}
	name, err := label.Name(sl.Green, sl.Finished)
	if err != nil {
		return nil, shop.Stop("not_bacon", "%s: %s.", sl.Tag, err)
	}
	l := &PacketLabel{Tag: sl.Tag, Name: name, Ingredients: list, Net: sl.Finished, PackedOn: sl.PackedOn, UseBy: sl.UseBy, Handling: t.s.Rules.Handling,
		Shop: t.s.Config.Shop, Place: place, Link: t.s.TagLink(sl.Tag), Warning: warning, Frozen: sl.State == shop.InFreezer}
	var ask []string
	if l.Contains, ask = label.Contains(list, written); len(ask) > 0 {
		return nil, shop.Stop("allergen_kind", "%s: the jar does not say %s, and a label must. Write it into what the jar contains.", sl.Tag, strings.Join(ask, ", nor "))
	}
	if !l.Frozen {
		return l, nil
	}
	var st shop.Step
	if err := t.Where("slab_id = ? AND to_state = ? AND counted = ?", sl.ID, shop.InFreezer, true).Order("done_at DESC, id DESC").Take(&st).Error; err != nil {
		return nil, err
	}
	l.FrozenOn = st.DoneAt.Day(t.s.Loc)
	l.ThawDays = label.Thawed(sl.PackedOn, l.FrozenOn, t.s.Rules.ThawedDays, t.s.life())
	return l, nil
}

// ingredients are what was really weighed onto a slab, heaviest first, and the allergens
// written down for its jar; nil where the record has a gap.
func (t tx) ingredients(sl *shop.Slab) (list []label.Ingredient, written []string, err error) {
	var k shop.CureTicket
	err = t.Where("slab_id = ? AND superseded_at = 0", sl.ID).Order("id DESC").Take(&k).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	w, err := t.passedFor(k)
	if w == nil || err != nil {
		return nil, nil, err
	}
	var lot shop.IngredientLot
	if err := t.Where("id = ?", k.CureLotID).Take(&lot).Error; err != nil {
		return nil, nil, err
	}
	jar, ask, err := jarOf(t.DB, sl)
	if ask || err != nil {
		return nil, nil, err
	}
	named := func(s string, w unit.Weight) label.Part {
		return label.Part{Ingredient: label.Ingredient{Name: s}, Weight: w}
	}
	parts := append([]label.Part{named("pork belly", k.Green), named("salt", w.Salt), named("sugar", w.Sugar)}, label.CuringSalt(w.Cure, lot.Nitrite, lot.Nitrate)...)
	if contents := label.Parse(jar.Contents); len(contents) > 0 {
		// What is in the jar is named even where nobody wrote its weight down.
		parts = append(parts, label.Part{Ingredient: label.Blend(jar.Name, contents), Weight: max(w.Spice, k.Spice, 1)})
	}
	return label.Statement(parts), strings.Split(jar.Allergens, ","), nil
}
