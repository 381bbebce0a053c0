package store

import (
	"context"
	"unicode/utf8"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// LastTime is what a party had, for having it again: spice, salt, weight and the note each
// wrote; and the classes of the same kind ahead that have room for as many.
type LastTime struct {
	Ref     string
	Day     unit.Day
	Slabs   []LastSlab
	Classes []NextClass
}

// LastSlab is one slab of it.
type LastSlab struct {
	Tag   string
	Code  string // of the jar; "" for none known
	Spice string
	Salt  unit.Ratio // of the cure's basis
	Green unit.Weight
	Note  string
}

// NextClass is a class ahead with the jars that are not on its table.
type NextClass struct {
	ClassCard
	Away map[string]bool
}

// LastTime reads it by the secret of the party's My-slab page. It names nobody.
func (s *Store) LastTime(ctx context.Context, secret string) (*LastTime, error) {
	b, err := s.bySlabSecret(ctx, secret)
	if err != nil {
		return nil, err
	}
	db := s.read(ctx)
	c, err := take[shop.Class](db, "The class", "id = ?", b.ClassID)
	if err != nil {
		return nil, err
	}
	l := &LastTime{Ref: b.Ref(), Day: c.Day}
	var rows []struct {
		Tag, Code, Spice, Note string
		Green, Salt, Basis     unit.Weight
	}
	err = db.Raw(`SELECT slabs.tag, COALESCE(jars.code, '') AS code, COALESCE(jars.name, '') AS spice, COALESCE(picks.note, '') AS note, slabs.green,
			COALESCE(cure_tickets.salt, 0) AS salt, COALESCE(cure_tickets.basis, 0) AS basis
		FROM slabs JOIN seats ON seats.id = slabs.seat_id LEFT JOIN picks ON picks.seat_id = slabs.seat_id AND picks.slot = slabs.slot
		LEFT JOIN jars ON jars.id = CASE WHEN slabs.jar_id <> 0 THEN slabs.jar_id ELSE picks.jar_id END
		LEFT JOIN cure_tickets ON cure_tickets.slab_id = slabs.id AND cure_tickets.superseded_at = 0
		WHERE seats.booking_id = ? AND slabs.state NOT IN (?, ?) ORDER BY slabs.number`, b.ID, shop.Dumped, shop.Replaced).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		last := LastSlab{Tag: r.Tag, Code: r.Code, Spice: r.Spice, Green: r.Green, Note: r.Note}
		if r.Basis > 0 {
			last.Salt = r.Salt.RatioOf(r.Basis)
		}
		l.Slabs = append(l.Slabs, last)
	}
	if len(l.Slabs) == 0 {
		return nil, shop.Missing("Last time's bacon")
	}
	classes, err := many[shop.Class](db, "starts_at", "kind_id = ? AND private = ? AND state IN (?, ?) AND starts_at > ? AND seats - seats_taken >= ?",
		c.KindID, false, shop.Open, shop.GoingAhead, s.Now(), len(l.Slabs))
	if err != nil {
		return nil, err
	}
	cards, err := s.cards(db, classes, s.Now())
	if err != nil {
		return nil, err
	}
	for _, card := range cards {
		next := NextClass{ClassCard: card, Away: map[string]bool{}}
		var away []string
		if err := db.Raw("SELECT jars.code FROM jars_away JOIN jars ON jars.id = jars_away.jar_id WHERE jars_away.class_id = ?", card.ID).Scan(&away).Error; err != nil {
			return nil, err
		}
		for _, code := range away {
			next.Away[code] = true
		}
		l.Classes = append(l.Classes, next)
	}
	return l, nil
}

// KeepNote keeps a party's own words about one of its slabs, for the next time.
func (s *Store) KeepNote(ctx context.Context, secret, tag, note string) error {
	b, err := s.bySlabSecret(ctx, secret)
	if err != nil {
		return err
	}
	note = trim(note)
	if utf8.RuneCountInString(note) > 200 {
		return field("note", "Please shorten this to 200 letters.")
	}
	for _, r := range note {
		if r < ' ' {
			return field("note", "Please write it on one line.")
		}
	}
	return s.tx(ctx, func(t tx) error {
		sl, err := take[shop.Slab](t.DB, "The slab", "tag = ? AND seat_id IN (SELECT id FROM seats WHERE booking_id = ?)", tag, b.ID)
		if err != nil {
			return err
		}
		res := t.Model(&shop.Pick{}).Where("seat_id = ? AND slot = ?", sl.SeatID, sl.Slot).Update("note", note)
		if err := changed(res, shop.Missing("The slab")); err != nil {
			return err
		}
		return t.note(shop.Customer("payer of "+b.Ref()), "booking", int64(b.ID), "kept a note for next time", "", "", tag)
	})
}
