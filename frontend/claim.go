package frontend

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// PieceRow is a piece of a delivery with the form that promises it.
type PieceRow struct {
	store.MeatPiece
	Form Form
}

// Rest is the weight of pieces that no class and no dinner holds.
func (p OrderPage) Rest() unit.Weight {
	var sum unit.Weight
	for _, m := range p.View.Pieces {
		if m.Purpose != "class" && m.Purpose != "dinner" {
			sum += m.Weight
		}
	}
	return sum
}

// BellyChoices are the bellies that could be weighed.
func (p OrderPage) BellyChoices() []Choice {
	var out []Choice
	if p.View.Recount == nil {
		return nil
	}
	for _, b := range p.View.Recount.Bellies {
		word := "reckoned"
		if b.Measured {
			word = "weighed"
		}
		out = append(out, Choice{Value: strconv.FormatInt(int64(b.BellyID), 10), Label: fmt.Sprintf("%s, %s %s", b.Tag, word, b.Weight.LB())})
	}
	return out
}

// orderPieces fills what the page asks about animals and their pieces.
func (s *Site) orderPieces(p *OrderPage) {
	for _, k := range inspection.Kills {
		p.Kills = append(p.Kills, Choice{Value: string(k), Label: killedHow[k]})
	}
	for _, a := range inspection.Ages {
		p.Ages = append(p.Ages, Choice{Value: string(a), Label: string(a)})
	}
	var codes []string
	for _, l := range p.View.Lines {
		codes = append(codes, l.Code)
	}
	p.Classes = strings.Join(codes, ", ")
	for i, m := range p.View.Pieces {
		p.Pieces = append(p.Pieces, PieceRow{m, Form{Prefix: fmt.Sprintf("m%d-", i)}})
	}
	p.Purposes = []Choice{{Value: "counter", Label: "the counter"}, {Value: "class", Label: "a class"}, {Value: "dinner", Label: "a dinner"}, {Value: "freezer", Label: "the freezer"}, {Value: "free", Label: "nothing: free"}}
}

var killedHow = map[inspection.Kill]string{
	inspection.Inspected:    "under inspection; the mark is on the meat",
	inspection.CustomExempt: "for somebody's own household, NOT FOR SALE",
	inspection.Hunted:       "hunted",
	inspection.Uninspected:  "without inspection, or nobody knows",
}

func (s *Site) claimPiece(ctx context.Context, by shop.Actor, _ shop.OrderID, f *Form) (string, error) {
	v := f.Values
	id, _ := strconv.ParseInt(v.Get("id"), 10, 64)
	if v.Get("purpose") == "free" {
		return "That piece is free.", s.Store.FreeClaim(ctx, by, v.Get("piece"), id)
	}
	return "The claim is changed.", s.Store.Claim(ctx, by, store.NewClaim{Piece: v.Get("piece"), Subject: id, Purpose: v.Get("purpose"), Class: strings.ToUpper(strings.TrimSpace(v.Get("class")))})
}

func (s *Site) sellRest(ctx context.Context, by shop.Actor, id shop.OrderID, _ *Form) (string, error) {
	n, err := s.Store.SellRest(ctx, by, id)
	if n == 1 {
		return "1 piece goes over the counter.", err
	}
	return fmt.Sprintf("%d pieces go over the counter.", n), err
}

func (s *Site) weighBelly(ctx context.Context, by shop.Actor, _ shop.OrderID, f *Form) (string, error) {
	id, _ := strconv.ParseInt(f.Values.Get("belly"), 10, 64)
	w := pounds(f, "weight")
	if !f.OK() {
		return "", nil
	}
	return "The belly is weighed.", s.Store.WeighBelly(ctx, by, shop.BellyID(id), w)
}

func (s *Site) setAge(ctx context.Context, by shop.Actor, _ shop.OrderID, f *Form) (string, error) {
	id, _ := strconv.ParseInt(f.Values.Get("animal"), 10, 64)
	return "The age is written down.", s.Store.SetAge(ctx, by, shop.AnimalID(id), inspection.Cattle(f.Values.Get("age")))
}
