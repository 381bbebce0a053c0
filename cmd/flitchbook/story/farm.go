package story

import (
	"context"
	"fmt"
	"slices"

	"flitchbook/api/shop"
	"flitchbook/planner/invoice"
)

// bill types in what a farm or the plant asks for.
func (p *Player) bill(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	b := e.Bill
	return p.Store.TypeInvoice(ctx, p.by(e), o.Order.ID, shop.Invoice{Party: shop.Biller(b.From), Number: b.Number, Basis: invoice.Basis(b.Basis), Animals: b.Animals,
		Weight: b.Weight, PriceCents: b.Price, MeatCents: b.Meat, HaulCents: b.Haul, OtherCents: b.Other, OtherWords: b.Words, TotalCents: b.Total})
}

// yieldNote sends the farm what its animals gave.
func (p *Player) yieldNote(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	return p.Store.SendYieldNote(ctx, p.by(e), o.Order.ID)
}

// dinnerMeat takes the lot that is proposed for a dinner.
func (p *Player) dinnerMeat(ctx context.Context, e event) error {
	m, err := p.Store.DinnerMeat(ctx, e.Cls, "", 0)
	if err != nil {
		return err
	}
	for _, l := range m.Lots {
		if l.Proposed {
			return p.Store.ChooseDinnerLot(ctx, p.by(e), e.Cls, l.Lot)
		}
	}
	return fmt.Errorf("no earlier lot has enough for the dinner of %s", e.Cls)
}

// dinnerLots is the kitchen's note of what went into a dinner: the lots of the named
// ingredients that were in use that day.
func (p *Player) dinnerLots(ctx context.Context, e event) error {
	d, err := p.Store.DinnerLots(ctx, e.Cls)
	if err != nil {
		return err
	}
	var ids []shop.LotID
	for _, l := range d.Lots {
		if slices.Contains(e.Tags, l.Ingredient) {
			ids = append(ids, l.ID)
		}
	}
	return p.Store.NoteDinnerLots(ctx, p.by(e), e.Cls, ids)
}
