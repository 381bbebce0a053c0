package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// HangSheet is what a kill's animals give when they hang lighter or heavier than usual.
type HangSheet struct {
	Kill    unit.Day
	Species string
	Order   int // number, 0 before there is one
	Farm    string
	Codes   []string
	Usual   unit.Weight
	Least   unit.Weight // of the slider
	Most    unit.Weight
	At      demand.Hang
	Same    demand.Hang // at the usual weight
	Drop    string      // the next weight below at which slabs are lost
	Worth   unit.Money  // of what it leaves, by the value list
}

// HangAsk says which kill and what if.
type HangAsk struct {
	Kill    unit.Day
	Species string
	Order   int         // number of the order; 0: the first of that kill and species
	Hang    unit.Weight // 0: the farm's usual
	Level   demand.Level
}

// HangSheet reckons a kill of the meat sheet at a hanging weight.
func (s *Store) HangSheet(ctx context.Context, ask HangAsk) (*HangSheet, error) {
	sheet, err := s.MeatSheet(ctx, ask.Kill, ask.Kill)
	if err != nil {
		return nil, err
	}
	for _, g := range sheet.Groups {
		if g.Species != ask.Species || ask.Order != 0 && (g.Order == nil || g.Order.Number != ask.Order) {
			continue
		}
		return s.hangOf(g, ask)
	}
	return nil, shop.Missing(fmt.Sprintf("A kill of %s on %s", ask.Species, ask.Kill.Show()))
}

func (s *Store) hangOf(g MeatGroup, ask HangAsk) (*HangSheet, error) {
	profile, err := g.Farm.Row.Carcass(g.Farm.Name)
	if err != nil {
		return nil, err
	}
	h := &HangSheet{Kill: g.Kill, Species: g.Species, Farm: g.Farm.Name, Usual: profile.HCW}
	in := demand.Input{Profile: profile, Rule: s.Rules.SlabRule()}
	for _, c := range g.Classes {
		h.Codes = append(h.Codes, c.Code)
		in.Classes = append(in.Classes, c.Call)
	}
	if profile.Belly == 0 {
		return nil, shop.Bad("species", "No slabs are cut from %s: its hanging weight changes nothing for a class.", g.Species)
	}
	// The slider goes a quarter either way, in whole pounds.
	h.Least, h.Most = (profile.HCW * 3 / 4).Round(unit.Pound), (profile.HCW * 5 / 4).Round(unit.Pound)
	hang := ask.Hang
	if hang == 0 {
		hang = profile.HCW
	}
	if hang < profile.HCW/4 || hang > 2*profile.HCW {
		var w shop.Wrong
		w.Add("hang", "%s is far from the farm's usual %s.", hang.LB(), profile.HCW.LB())
		return nil, w.Err()
	}
	animals := 0
	if g.Order != nil {
		h.Order, animals = g.Order.Number, g.Order.Animals
		if g.Order.AnsweredAt != 0 {
			animals = g.Order.Promised
		}
	}
	if h.At, err = in.AtHang(ask.Level, animals, hang); err != nil {
		return nil, err
	}
	if h.Same, err = in.AtHang(ask.Level, animals, profile.HCW); err != nil {
		return nil, err
	}
	if d, ok := profile.StepDown(in.Rule, 0, hang); ok {
		h.Drop = d.Why
	}
	h.Worth = s.Rules.Worth(h.At.Leaves.Cuts)
	return h, nil
}
