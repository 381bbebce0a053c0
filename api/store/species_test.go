package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// pieces writes a delivered order's pieces with what they are promised to.
func (h *meatHouse) pieces(o *shop.Order) string {
	h.t.Helper()
	v, err := h.OrderPage(h.Ctx, o.Number)
	h.must(err)
	var out []string
	for _, p := range v.Pieces {
		to := p.Purpose
		if p.Class != "" {
			to += " " + p.Class
		}
		if to == "" {
			to = "free"
		}
		reckoned := ""
		if p.Reckoned {
			reckoned = "~"
		}
		out = append(out, fmt.Sprintf("%s %s%s %s", p.Piece, reckoned, p.Weight.LB(), to))
	}
	return strings.Join(out, "; ")
}

// A lamb, a deer and a beef hindquarter from seats to what is left to sell: the kill day by
// the hang of the species (house rule R19: lamb 3–10 days, deer 5–10, beef the kill nearest
// 17 days of 14–21; leads 21, 45 and 60 days), one whole or one hindquarter for up to 12
// guests (R17), weighed in whole or in quarters, claimed by the class, the rest sold.
func TestBiggerThanPork(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		for _, r := range []struct {
			code, kind, species, starts, early string
			kill, orderBy, deliver             string
			hot                                string
			came                               []string
			claimed, sold                      string
		}{
			{"D4", "lamb", "lamb", "2026-11-05 18:00", "2026-09-20 10:00", "2026-10-28", "Wed Oct 7, 17:00", "2026-11-05 08:40", "61",
				[]string{"59.1"}, "animal 59.10 lb class D4", "animal 59.10 lb class D4"},
			{"D2", "venison", "deer", "2026-10-22 18:00", "2026-08-10 10:00", "2026-10-14", "Sun Aug 30, 17:00", "2026-10-22 08:40", "112",
				[]string{"108.5"}, "animal 108.50 lb class D2", "animal 108.50 lb class D2"},
			// The right hindquarter is claimed; one beef leaves a hindquarter and two
			// forequarters.
			{"D5", "beef", "beef", "2026-11-12 18:00", "2026-08-20 10:00", "2026-10-27", "Fri Aug 28, 17:00", "2026-11-12 09:10", "742",
				[]string{"171.5", "186.5", "173", "188"},
				"hindquarter 171.50 lb free; forequarter 186.50 lb free; hindquarter 173.00 lb class D5; forequarter 188.00 lb free",
				"hindquarter 171.50 lb counter; forequarter 186.50 lb counter; hindquarter 173.00 lb class D5; forequarter 188.00 lb counter"},
		} {
			h.Go(r.early)
			h.class(r.code, r.kind, r.starts, 12, 0)
			h.guests(r.code, int(r.code[1]), "Edda", 9)
			ps, err := h.KillProposals(h.Ctx)
			h.must(err)
			if len(ps) != 1 || ps[0].Choice.Chosen.Kill != h.day(r.kill) || ps[0].OrderBy.Show(h.Loc) != r.orderBy || ps[0].Animals != 1 {
				t.Fatalf("%s: proposed %+v, want kill %s, order by %s", r.code, ps, r.kill, r.orderBy)
			}
			h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id(r.code), h.day(r.kill)))
			o := h.promise(r.kill, "", r.species, 1, r.code)
			v, err := h.OrderPage(h.Ctx, o.Number)
			h.must(err)
			if len(v.Lines) != 1 || v.Lines[0].Wanted != 1 || v.Lines[0].Code != r.code {
				t.Errorf("%s: order lines %+v", r.code, v.Lines)
			}
			h.Go(r.kill + " 13:00")
			killed := shop.KilledAnimal{Tag: "X" + r.code, Hot: lb(r.hot)}
			if r.species == "beef" {
				_, err := h.RecordKill(h.Ctx, storetest.Odile, o.ID, []shop.KilledAnimal{killed})
				if e, ok := shop.AsError(err); !ok || !strings.Contains(e.Fields["age1"], "30 months") {
					t.Errorf("a beef of an age nobody told: %v", err)
				}
				killed.Age = inspection.Under30
			}
			_, err = h.RecordKill(h.Ctx, storetest.Odile, o.ID, []shop.KilledAnimal{killed})
			h.must(err)
			h.Go(r.deliver)
			pieces := shop.Pieces(r.species)
			var in []shop.DeliveredSide
			for i, w := range r.came {
				in = append(in, shop.DeliveredSide{Animal: 1, Which: pieces[i].Which, Cold: lb(w)})
			}
			short := in
			if len(in) > 1 {
				short = in[1:]
			} else {
				short[0].Cold, short = lb("3"), short[:1] // far from usual
			}
			if _, err := h.ReceiveDelivery(h.Ctx, storetest.Tobias, o.ID, mark, short); err == nil {
				t.Errorf("%s: %v was weighed in", r.code, short)
			}
			in[0].Cold = lb(r.came[0])
			_, err = h.ReceiveDelivery(h.Ctx, storetest.Tobias, o.ID, mark, in)
			h.must(err)
			if got := h.pieces(o); got != r.claimed {
				t.Errorf("%s: %s; want %s", r.code, got, r.claimed)
			}
			_, err = h.SellRest(h.Ctx, storetest.Tobias, o.ID)
			h.must(err)
			if got := h.pieces(o); got != r.sold {
				t.Errorf("%s, the rest sold: %s; want %s", r.code, got, r.sold)
			}
		}
		for _, f := range h.check() {
			t.Error(f)
		}
	})
}

// How many guests share what is a kind's own setting. Worked rows E-O7 (10 seats at 6: two
// hindquarters, one animal, two forequarters to sell) and E-O8 (7 seats at 2 a lamb: four).
func TestGuestsAPiece(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-08-03 10:00")
		h.must(h.Do(h.Ctx, "UPDATE class_kinds SET per_unit = 6 WHERE code = 'beef'"))
		h.must(h.Do(h.Ctx, "UPDATE class_kinds SET per_unit = 2 WHERE code = 'lamb'"))
		h.class("D5", "beef", "2026-11-12 18:00", 10, 0)
		h.class("D4", "lamb", "2026-11-05 18:00", 7, 0)
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("D5"), h.day("2026-10-27")))
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("D4"), h.day("2026-10-28")))
		m, err := h.MeatSheet(h.Ctx, h.day("2026-10-01"), h.day("2026-11-30"))
		h.must(err)
		for _, g := range m.Groups {
			n := g.Bets[2]
			got := fmt.Sprintf("%d hindquarters, %d wholes, %d animals, %d forequarters", n.Hindquarters, n.Wholes, n.Animals, n.Forequarters)
			want := map[string]string{"beef": "2 hindquarters, 0 wholes, 1 animals, 2 forequarters", "lamb": "0 hindquarters, 4 wholes, 4 animals, 0 forequarters"}[g.Species]
			if got != want {
				t.Errorf("%s: %s, want %s", g.Species, got, want)
			}
		}
		if len(m.Groups) != 2 {
			t.Errorf("%d kills", len(m.Groups))
		}
	})
}

// Meat that may be neither sold nor served is turned away with the reason, and that stands
// on record. University of Florida IFAS AN204 (row E-R5), Food Code 3-201.17 (E-R6).
func TestTurnedAway(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-08-10 10:00")
		h.class("D2", "venison", "2026-10-22 18:00", 12, 0)
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("D2"), h.day("2026-10-14")))
		o := h.promise("2026-10-14", "", "deer", 1, "D2")
		for kill, says := range map[inspection.Kill]string{
			inspection.CustomExempt: "NOT FOR SALE", inspection.Hunted: "Hunted deer", inspection.Uninspected: "inspection mark", "": "how it was killed",
		} {
			err := h.MayComeIn(h.Ctx, storetest.Tobias, o.ID, kill)
			if e, ok := shop.AsError(err); !ok || e.Kind != shop.Invalid || !strings.Contains(e.Fields["killed"], says) {
				t.Errorf("%q: %v, want a refusal saying %q", kill, err, says)
			}
		}
		h.must(h.MayComeIn(h.Ctx, storetest.Tobias, o.ID, inspection.Inspected))
		if n := get[int](h, "SELECT count(*) FROM history WHERE subject = 'order' AND what = 'refused at the door'"); n != 3 {
			t.Errorf("%d refusals on record, want 3", n)
		}
		h.killed(o, "2026-10-14 13:00", "110")
		h.Go("2026-10-22 08:40")
		_, err := h.ReceiveDelivery(h.Ctx, storetest.Tobias, o.ID, "not for sale", []shop.DeliveredSide{{Animal: 1, Which: shop.WholeCarcass, Cold: lb("106")}})
		if e, ok := shop.AsError(err); !ok || !strings.Contains(e.Fields["legend"], "household") {
			t.Errorf("meat marked not for sale: %v", err)
		}
	})
}

// Cattle of 30 months and older: no loin on the bone (9 CFR 310.22, from memory). The
// hindquarter stays unclaimed, the owner is told; it is sold or dined on boneless.
func TestOlderCattle(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-08-20 10:00")
		h.class("D5", "beef", "2026-11-12 18:00", 12, 0)
		h.guests("D5", 50, "Quarry", 8)
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("D5"), h.day("2026-10-27")))
		o := h.promise("2026-10-27", "", "beef", 1, "D5")
		h.Go("2026-10-27 13:00")
		_, err := h.RecordKill(h.Ctx, storetest.Odile, o.ID, []shop.KilledAnimal{{Hot: lb("742"), Age: "old"}})
		if e, ok := shop.AsError(err); !ok || e.Fields["age1"] == "" {
			t.Errorf("an age nobody knows: %v", err)
		}
		_, err = h.RecordKill(h.Ctx, storetest.Odile, o.ID, []shop.KilledAnimal{{Hot: lb("742"), Age: inspection.From30}})
		h.must(err)
		h.delivered(o, "2026-11-12 09:10", "358", "361")
		// Sides that came unquartered are parted 48 to 52: 358 × 0.48 = 171.84.
		if got, want := h.pieces(o), "hindquarter ~171.84 lb free; forequarter ~186.16 lb free; hindquarter ~173.28 lb free; forequarter ~187.72 lb free"; got != want {
			t.Errorf("%s; want %s", got, want)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'owner-task' AND facts LIKE '%backbone%'"); n != 1 {
			t.Errorf("the owner was told %d times", n)
		}
		v, err := h.OrderPage(h.Ctx, o.Number)
		h.must(err)
		quarter := v.Pieces[0]
		claim := func(purpose, class string) error {
			return h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: quarter.Piece, Subject: quarter.ID, Purpose: purpose, Class: class})
		}
		if err := claim("class", "D5"); err == nil || !strings.Contains(err.Error(), "specified risk material") {
			t.Errorf("claimed for a class that cuts on the bone: %v", err)
		}
		// The plant looks again: it was younger.
		h.must(h.SetAge(h.Ctx, storetest.Odile, v.Animals[0].ID, inspection.Under30))
		h.must(claim("class", "D5"))
		if err := h.SetAge(h.Ctx, storetest.Odile, v.Animals[0].ID, inspection.From30); err == nil || !strings.Contains(err.Error(), "end its claim first") {
			t.Errorf("made older under a claim: %v", err)
		}
		// A side and its quarter are the same meat.
		if err := h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "side", Subject: quarter.ID, Purpose: "counter"}); err == nil {
			t.Error("the side of a claimed quarter was claimed")
		}
		h.must(h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "forequarter", Subject: quarter.ID, Purpose: "counter"}))
		h.must(h.FreeClaim(h.Ctx, storetest.Tobias, "hindquarter", quarter.ID))
		for _, f := range h.check() {
			t.Error(f)
		}
	})
}

// Dinner meat is of an earlier lot (house rule R22): the class's own and later lots are
// refused, an earlier one with enough of the roast's cut is proposed. For 12 heads at 6 oz
// of boneless loin losing 26.3 % 6.11 lb raw (row E-M1).
func TestDinnerMeat(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-10 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.class("D1", "pig", "2026-10-15 18:00", 12, 0)
		h.class("B3", "bacon", "2026-10-24 14:00", 10, 1)
		h.guests("D1", 39, "Aurel", 12)
		first := h.promise("2026-10-07", "harl", "pork", 1, "B1")
		own := h.promise("2026-10-13", "harl", "pork", 1, "D1")
		later := h.promise("2026-10-21", "harl", "pork", 1, "B3")
		h.killed(first, "2026-10-07 13:00", "206")
		h.delivered(first, "2026-10-08 08:00", "99.9", "99.9")
		m, err := h.DinnerMeat(h.Ctx, "D1", "", 0)
		h.must(err)
		if m.Buy.Raw.LB() != "6.11 lb" || m.Buy.Guests != 12 || len(m.Lots) != 1 || !m.Lots[0].Proposed {
			t.Fatalf("%+v, %+v", m.Buy, m.Lots)
		}
		// Two sides of 99.9 lb × 23 % loin, 10.7 of 33.8 of it boneless (31.7 %): 14.57 lb.
		if l := m.Lots[0]; l.Weight.LB() != "14.57 lb" || l.Lot != "L"+fmt.Sprint(first.Number)+"-2026-10-08" {
			t.Errorf("lot %+v", l)
		}
		// 24 × 6 oz of ham at 25.6 % and 85 %: 14.23 lb for 24, so 7.12 for 12 (row E-M3).
		if m, err := h.DinnerMeat(h.Ctx, "D1", "fresh ham, roasted", 6*unit.Ounce); err != nil || m.Buy.Raw.LB() != "7.12 lb" {
			t.Errorf("ham: %+v, %v", m, err)
		}
		if _, err := h.DinnerMeat(h.Ctx, "D1", "peacock", 0); err == nil {
			t.Error("a roast nobody knows")
		}
		h.must(h.ChooseDinnerLot(h.Ctx, storetest.Tobias, "D1", m.Lots[0].Lot))
		h.must(h.ChooseDinnerLot(h.Ctx, storetest.Tobias, "D1", m.Lots[0].Lot))
		h.killed(own, "2026-10-13 13:00", "206")
		h.delivered(own, "2026-10-15 08:00", "99.9", "99.9")
		for _, no := range []string{"L" + fmt.Sprint(own.Number) + "-2026-10-15", "L77"} {
			if err := h.ChooseDinnerLot(h.Ctx, storetest.Tobias, "D1", no); err == nil {
				t.Errorf("dinner of lot %s", no)
			}
		}
		v, err := h.OrderPage(h.Ctx, own.Number)
		h.must(err)
		free := v.Pieces[0]
		if err := h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "side", Subject: free.ID, Purpose: "dinner", Class: "D1"}); err == nil || !strings.Contains(err.Error(), "earlier lot") {
			t.Errorf("dinner out of the class half: %v", err)
		}
		h.killed(later, "2026-10-21 13:00", "206")
		h.delivered(later, "2026-10-22 08:00", "99.9", "99.9")
		v, err = h.OrderPage(h.Ctx, later.Number)
		h.must(err)
		if err := h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "side", Subject: v.Pieces[0].ID, Purpose: "dinner", Class: "D1"}); err == nil || !strings.Contains(err.Error(), "no earlier") {
			t.Errorf("dinner out of a later lot: %v", err)
		}
		sheet, err := h.TableSheet(h.Ctx, "D1")
		h.must(err)
		if sheet.Lot != m.Lots[0].Lot || len(sheet.NotFrom) != 1 {
			t.Errorf("the table sheet says lot %q, not from %v", sheet.Lot, sheet.NotFrom)
		}
	})
}
