package store

import (
	"context"
	"errors"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/inspection"
)

// MayComeIn says whether meat killed in a way may be weighed in for an order. A refusal
// says why, and is kept in the order's history: what was turned away at the door belongs
// on record too.
func (s *Store) MayComeIn(ctx context.Context, by shop.Actor, id shop.OrderID, kill inspection.Kill) error {
	if !slices.Contains(inspection.Kills, kill) {
		var w shop.Wrong
		w.Add("killed", "Say how it was killed.")
		return w.Err()
	}
	var no *inspection.Refusal
	err := s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		if !errors.As(inspection.Serve(shop.AnimalOf(o.Species), kill), &no) {
			return nil
		}
		return t.note(by, "order", int64(id), "refused at the door", "", string(kill), no.Reason)
	})
	if err != nil || no == nil {
		return err
	}
	return &shop.Error{Kind: shop.Invalid, Code: "not_inspected", Text: no.Reason, Fields: map[string]string{"killed": no.Reason}}
}

// SetAge writes down how old one head of cattle was, when the plant says so later.
func (s *Store) SetAge(ctx context.Context, by shop.Actor, id shop.AnimalID, age inspection.Cattle) error {
	return s.tx(ctx, func(t tx) error {
		a, err := take[shop.Animal](t.DB, "The animal", "id = ?", id)
		if err != nil {
			return err
		}
		if a.Species != "beef" {
			return shop.Bad("age", "Age is asked of cattle only.")
		}
		if err := shop.CheckAges([]shop.KilledAnimal{{Age: age}}, true); err != nil {
			return err
		}
		var n int64
		err = t.Model(&shop.Claim{}).Where(`ended_at = 0 AND purpose = 'class' AND piece IN ('side', 'hindquarter')
			AND subject_id IN (SELECT id FROM sides WHERE animal_id = ?)`, id).Count(&n).Error
		if err != nil {
			return err
		}
		if n > 0 && inspection.BoneInLoin(age) != nil {
			return shop.Stop("claimed", "A class holds %s: end its claim first. %s", animalTag(*a), inspection.BoneInLoin(age).Error())
		}
		if err := t.Model(&shop.Animal{}).Where("id = ?", id).Update("age", age).Error; err != nil {
			return err
		}
		return t.note(by, "animal", int64(id), "age", string(a.Age), string(age), animalTag(*a))
	})
}

// cutsOnBone says whether a class of the order cuts loins of cattle on the bone, so that
// their age has to be known.
func (s *Store) cutsOnBone(db *gorm.DB, o *shop.Order) (bool, error) {
	if o.Species != "beef" {
		return false, nil
	}
	calls, err := s.meatCalls(db, "order_id = ?", o.ID)
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(calls, func(m meatCall) bool { return m.Kind.BoneIn }), nil
}
