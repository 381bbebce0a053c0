package store_test

import (
	"fmt"
	"strings"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

func (b *table) limits() map[string]store.LimitLine {
	b.t.Helper()
	lines, err := b.CureLimits(b.Ctx)
	b.ok(err)
	out := map[string]store.LimitLine{}
	for _, l := range lines {
		out[l.Code] = l
	}
	if len(lines) == 0 || !lines[0].Chosen {
		b.t.Errorf("the chosen limit is not first: %+v", lines)
	}
	return out
}

// The shop works under one limit. Choosing another stops the bench where the new one is
// passed and leaves every ticket there is as it was; approving changes nothing but what
// stands beside the limit. Limits: 9 CFR 424.22(b)(3), read where quoted; CFIA Meat
// Hygiene Manual chapter 4, read where quoted; Regulation (EU) 2023/2108, from memory.
func TestTheLimitInForce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-09 09:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", true}, laid{"PB", "4.60", true})
		one, two := tags[0], tags[1]
		for _, tag := range tags {
			b.cut(tag)
			b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tag)))
		}
		b.Go("2026-10-10 14:30")
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", cure.CheckWeight))
		for _, tag := range tags {
			b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), weighed(b.ticket(tag))))
		}
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(one), ""))
		before := [2]shop.CureTicket{b.ticket(one), b.ticket(two)}
		if k := before[0]; k.LimitCode != "us-bacon-dry" || k.LimitMost != 200*cure.MgPerKg {
			t.Errorf("the ticket says limit %q of %s", k.LimitCode, k.LimitMost)
		}

		// Only the owner, and only one that a ticket can prove.
		b.no(b.ChooseLimit(b.Ctx, storetest.Tobias, "ca-side-bacon", "over the border"), "")
		b.no(b.ApproveLimit(b.Ctx, storetest.Tobias, "ca-side-bacon", store.Approval{With: "x", Why: "y"}), "")
		b.no(b.ChooseLimit(b.Ctx, storetest.Odile, "eu-dry-residual", "sold there"), "no ticket can prove it")
		b.no(b.ChooseLimit(b.Ctx, storetest.Odile, "us-bacon-pumped", "a new machine"), "kits here are of dry cure")
		b.no(b.ChooseLimit(b.Ctx, storetest.Odile, "ca-side-bacon", " "), "Say why")
		b.no(b.ChooseLimit(b.Ctx, storetest.Odile, "moon", "why not"), "no limit called")
		b.no(b.ChooseLimit(b.Ctx, storetest.Odile, "us-bacon-dry", "again"), "already")

		// Canada, dry or wet: at most 120. 156.4 ppm cannot be weighed out or sealed.
		b.ok(b.ChooseLimit(b.Ctx, storetest.Odile, "ca-side-bacon", "the shop moved over the border"))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(two), ""), "156.4 ppm is over the limit of 120 ppm")
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(two), weighed(before[1])), "156.4 ppm is over the limit of 120 ppm")
		v, err := b.Slab(b.Ctx, two)
		b.ok(err)
		if v.Ticket != nil || !strings.Contains(v.NoKit, "over the limit of 120 ppm") {
			t.Errorf("the bench says %q", v.NoKit)
		}
		k, err := b.KitList(b.Ctx, "B1")
		b.ok(err)
		if k.Limit != "100 to 120 ppm of sodium nitrite put in" || !strings.Contains(k.Caution, "NOT CHECKED") || !strings.Contains(k.Lines[0].Problem, "120 ppm") {
			t.Errorf("kit list: %q, %q, %q", k.Limit, k.Caution, k.Lines[0].Problem)
		}
		// The ion, 80 mg/kg, is 119.98 of sodium nitrite.
		b.ok(b.ChooseLimit(b.Ctx, storetest.Odile, "eu-added-ion", "the shop moved again"))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(two), ""), "as nitrite ion is over the limit of 80 ppm")
		if got := [2]shop.CureTicket{b.ticket(one), b.ticket(two)}; got != before {
			t.Errorf("tickets changed from %+v to %+v", before, got)
		}
		b.ok(b.ChooseLimit(b.Ctx, storetest.Odile, "us-bacon-dry", "and back"))
		if got := [2]shop.CureTicket{b.ticket(one), b.ticket(two)}; got != before {
			t.Errorf("tickets changed from %+v to %+v", before, got)
		}

		// What passed under a laxer limit is held against the stricter one at the bag: the
		// ticket's 156.4 ppm would do under 160, the 169.7 weighed would not.
		w := weighed(before[1])
		w.Cure = "5.1"
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(two), w))
		b.rows(func(db *gorm.DB) error {
			return db.Model(&shop.CureLimit{}).Where("code = ?", "us-bacon-dry").Update("most", 160*cure.MgPerKg).Error
		})
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(two), ""), "169.7 ppm is over the limit of 160 ppm", "weigh again")
		if l := b.limits()["us-bacon-dry"]; l.Listed == nil || l.Listed.Most != 200*cure.MgPerKg || l.Most != 160*cure.MgPerKg {
			t.Errorf("the shop's own figures: %+v", l)
		}

		// Approving needs with whom and why; it takes the caution away and touches no ticket.
		b.no(b.ApproveLimit(b.Ctx, storetest.Odile, "ca-side-bacon", store.Approval{}), "with", "why")
		if l := b.limits()["ca-side-bacon"]; l.Caution() == "" || l.Approval() != "" {
			t.Errorf("not approved: %+v", l)
		}
		b.ok(b.ApproveLimit(b.Ctx, storetest.Odile, "ca-side-bacon", store.Approval{With: "the inspector", Why: "the manual of that year"}))
		if l := b.limits()["ca-side-bacon"]; l.Caution() != "" || l.Approval() != "approved by Odile on Sat Oct 10, with the inspector: the manual of that year" {
			t.Errorf("approved: %q, %q", l.Approval(), l.Caution())
		}
		if got := [2]shop.CureTicket{b.ticket(one), b.ticket(two)}; got[0] != before[0] {
			t.Errorf("tickets changed from %+v to %+v", before, got)
		}
		var notes []string
		b.rows(func(db *gorm.DB) error {
			var rows []shop.History
			err := db.Order("id").Find(&rows, "subject = ?", "limit").Error
			for _, r := range rows {
				notes = append(notes, fmt.Sprintf("%s %s>%s %s", r.What, r.From, r.To, r.Actor))
			}
			return err
		})
		if got := strings.Join(notes, "; "); got != "chosen us-bacon-dry>ca-side-bacon Odile; chosen ca-side-bacon>eu-added-ion Odile; chosen eu-added-ion>us-bacon-dry Odile; approved >approved by Odile on Sat Oct 10, with the inspector: the manual of that year Odile" {
			t.Errorf("history: %s", got)
		}
		// Bringing the shop up to its document leaves the owner's decisions alone.
		b.ok(b.ChooseLimit(b.Ctx, storetest.Odile, "ca-side-bacon", "for good"))
		b.ok(b.Furnish(b.Ctx, storetest.Odile, shop.Furnishing{Name: "again", Limits: []shop.FurnishedLimit{{Code: "us-bacon-dry", Chosen: true}}}))
		if l := b.limits()["ca-side-bacon"]; !l.Chosen {
			t.Error("a document took the choice back")
		}
	})
}

// No lot with nitrate, and no nitrite that a ticket does not count, comes onto a slab
// (none in bacon: FSIS Directive 7620.3 p. 28, read where quoted).
func TestNitrateNeverOntoASlab(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-09 09:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "5.00", false}, laid{"PB", "5.00", false})
		for _, tag := range tags {
			b.cut(tag)
			b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tag)))
		}
		b.Go("2026-10-10 14:30")
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", cure.CheckWeight))
		w := weighed(b.ticket(tags[0]))
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[0]), w))

		for _, bad := range []struct {
			lot  store.NewLot
			says string
		}{
			{store.NewLot{Ingredient: "curing salt", Code: "CS-0"}, "share of nitrite that stands on the bag"},
			{store.NewLot{Ingredient: "salt", Code: "S-9", Nitrate: "1 %"}, "is a curing salt: enter it as that"},
			{store.NewLot{Ingredient: "curing salt", Code: "CS-0", Nitrite: "60 %", Nitrate: "50 %"}, "less than all of it"},
			{store.NewLot{Ingredient: "curing salt", Code: "CS-0", Nitrite: "5,7 %"}, "comma"},
		} {
			b.no(b.OpenLot(b.Ctx, storetest.Tobias, bad.lot), bad.says)
		}
		// Curing salt no. 2 is opened: 1 oz of nitrite and 0.64 oz of nitrate to 1 lb of salt.
		b.ok(b.OpenLot(b.Ctx, storetest.Tobias, store.NewLot{Ingredient: "curing salt", Code: "CS-2", Nitrite: "5.669 %", Nitrate: "3.628 %"}))
		for _, tag := range tags { // weighed before it or not
			b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), w), "nitrate", "none may be used in bacon")
			b.no(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""), "nitrate")
			v, err := b.Slab(b.Ctx, tag)
			b.ok(err)
			if v.Ticket != nil || !strings.Contains(v.NoKit, "nitrate") {
				t.Errorf("the bench says %q", v.NoKit)
			}
		}
		b.ok(b.OpenLot(b.Ctx, storetest.Tobias, store.NewLot{Ingredient: "curing salt", Code: "CS-3", Nitrite: "6.25 %", Replaces: "CS-2"}))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[0]), ""), "no passing weigh-out") // another lot now
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[0]), w))

		// A lot that turns out to hold nitrate after it was weighed bars the bag, whatever it
		// was entered as.
		for _, what := range []string{"salt", "sugar", "black pepper"} {
			set := func(r unit.Ratio) {
				b.rows(func(db *gorm.DB) error {
					return db.Model(&shop.IngredientLot{}).Where("ingredient = ?", what).Update("nitrate", r).Error
				})
			}
			set(10_000)
			b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[0]), ""), what, "nitrate")
			b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[1]), w), what, "nitrate")
			set(0)
		}
		if n := b.count(&shop.WeighOut{}, "slab_id = ?", b.get(tags[1]).ID); n != 0 {
			t.Errorf("%d weigh-outs kept of what was refused", n)
		}
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(tags[0]), ""))
		const rule = "nothing with nitrate, and no nitrite but the curing salt's, lies on a slab"
		if broken := brokenRules(t, h)[rule]; broken != nil {
			t.Error(broken)
		}
		b.rows(func(db *gorm.DB) error {
			return db.Model(&shop.IngredientLot{}).Where("ingredient = ?", "black pepper").Update("nitrate", 10_000).Error
		})
		if broken := brokenRules(t, h)[rule]; len(broken) != 1 {
			t.Errorf("nitrate on a sealed slab is not found: %v", broken)
		}
	})
}

// The ticket's band follows the scale in use, and what its step could carry over the limit
// is said before and after weighing (half a step on the cure, derived: E-W2 and E-W4).
func TestTheScaleInUse(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.rows(func(db *gorm.DB) error {
			return db.Create(&shop.Scale{Name: "fine scale", Step: unit.Gram / 100}).Error
		})
		b.Go("2026-10-09 09:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "5.00", false})
		b.cut(tags[0])
		b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tags[0])))
		b.Go("2026-10-10 14:30")
		see := func(scale, band string) *store.SlabView {
			t.Helper()
			v, err := b.Slab(b.Ctx, tags[0])
			b.ok(err)
			if v.Bench.Scale != scale || v.Bench.Band.Show() != band || v.Bench.Limit != "120 to 200 ppm of sodium nitrite put in" {
				t.Errorf("bench %+v, want ± %s on the %s", v.Bench, band, scale)
			}
			return v
		}
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", cure.CheckWeight))
		see("cure scale", "1.4 ppm")
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "fine scale", cure.CheckWeight))
		if v := see("fine scale", "0.1 ppm"); v.Bench.Warn != "" {
			t.Errorf("warned of %q", v.Bench.Warn)
		}
		b.no(b.CheckScale(b.Ctx, storetest.Tobias, "fine scale", 6*unit.Gram), "outside")
		see("cure scale", "1.4 ppm")
		// 5.7 g is 157.1 ppm; with a limit of 158 the scale's step might carry it over.
		b.rows(func(db *gorm.DB) error {
			return db.Model(&shop.CureLimit{}).Where("chosen = ?", true).Update("most", 158*cure.MgPerKg).Error
		})
		v, err := b.Slab(b.Ctx, tags[0])
		b.ok(err)
		if !strings.Contains(v.Bench.Warn, "may be as much as 158.5 ppm by the step of the scale, over the limit of 158 ppm") {
			t.Errorf("bench: %+v", v.Bench)
		}
		k, err := b.KitList(b.Ctx, "B1")
		b.ok(err)
		if k.Lines[0].Warn == "" || k.Widest().Show() != "1.4 ppm" || k.Scale != "cure scale" {
			t.Errorf("kit list: %+v", k.Lines[0])
		}
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[0]), weighed(b.ticket(tags[0]))))
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(tags[0]), ""))
	})
}
