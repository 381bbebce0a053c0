package store_test

import (
	"slices"
	"strings"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// classB1 is the first class of the invented shop with the slabs of its first scenario's
// outcome B: three a belly, the skin left on pig 2.
func classB1(b *table) []string {
	b.Go("2026-10-09 09:00")
	b.class("B1", "2026-10-10 14:00")
	w := []string{"4.38", "4.40", "4.60", "4.64"}
	n := 0
	slab := func(pick string) laid {
		l := laid{pick, w[n/3], n >= 6}
		n++
		return l
	}
	var tags []string
	for _, p := range []struct {
		number int
		who    string
		picks  []string
	}{{1, "Imke S.", []string{"PB", "JT"}}, {2, "Raoul D.", []string{"MC"}}, {3, "Perpetua L.", []string{"PB", "PB", "FO"}},
		{4, "Dov H.", []string{"GP"}}, {5, "Agnetha W.", []string{"PL", "MC", "FO"}}, {6, "Linus F.", []string{"GP"}}} {
		var slabs []laid
		for _, pick := range p.picks {
			slabs = append(slabs, slab(pick))
		}
		_, got := b.party(p.number, p.who, "B1", slabs...)
		tags = append(tags, got...)
	}
	var demo string
	b.rows(func(db *gorm.DB) (err error) {
		demo, err = b.slab(db, b.classes["B1"], 0, slab(""))
		return err
	})
	return append(tags, demo)
}

// M7: the kit list a stranger can set the class from. Totals and spices with 15 % spare to
// the next 5 g are the invented shop's worked figures.
func TestKitListOfB1(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		tags := classB1(b)
		for _, weighed := range []bool{false, true} {
			if weighed {
				b.cut(tags...)
			}
			k, err := b.KitList(b.Ctx, "B1")
			b.ok(err)
			if len(k.Lines) != 12 || k.Planned == weighed || k.Salt.G(0) != "513 g" || k.Sugar.G(0) != "258 g" || k.Cure.G(1) != "58.2 g" {
				t.Errorf("%d lines, planned %v: salt %s, sugar %s, curing salt %s", len(k.Lines), k.Planned, k.Salt.G(0), k.Sugar.G(0), k.Cure.G(1))
			}
			var got []string
			for _, sp := range k.Spices {
				got = append(got, sp.Code+" "+sp.Fill.G(0)+" ("+sp.Need.G(0)+")")
			}
			if want := []string{"PB 70 g (60 g)", "JT 20 g (16 g)", "MC 75 g (61 g)", "GP 60 g (50 g)", "FO 45 g (37 g)"}; !slices.Equal(got, want) {
				t.Errorf("spices %v, want %v", got, want)
			}
			if l := k.Lines[0]; l.Tag != "B1-01" || l.Seat != 1 || l.Name != "Imke" || l.Salt.G(0) != "44 g" || l.Cure.G(1) != "5.0 g" || l.Spice.G(0) != "20 g" {
				t.Errorf("first line %+v", l)
			}
			if l := k.Lines[11]; l.Name != "the shop" || !l.SkinOn || l.Cure.G(1) != "4.7 g" || l.Ask {
				t.Errorf("demo line %+v", l)
			}
		}
		if n, err := b.KitClass(b.Ctx, storetest.Nadia, "B1"); n != 12 || err != nil {
			t.Errorf("KitClass = %d, %v", n, err)
		}
		_, err := b.KitClass(b.Ctx, storetest.Nadia, "B1")
		b.no(err, "No slab of B1")
		b.rows(func(db *gorm.DB) error {
			return db.Create(&shop.JarAway{ClassID: b.classes["B1"].ID, JarID: b.jars["SC"]}).Error
		})
		if k, err := b.KitList(b.Ctx, "B1"); err != nil || !slices.Equal(k.Away, []string{"SC"}) {
			t.Errorf("jars away %v, %v", k.Away, err)
		}
		b.no(b.PickAtTable(b.Ctx, storetest.Nadia, on(tags[0]), "SC"), "not on the table that day")
	})
}

// R12: who has not told stands as ASK, never as none.
func TestClassSheet(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		classB1(b)
		b.rows(func(db *gorm.DB) error {
			var g []shop.Guest
			if err := db.Order("id").Find(&g).Error; err != nil {
				return err
			}
			for id, set := range map[shop.GuestID]map[string]any{
				g[0].ID: {"needs_state": shop.NotTold}, g[1].ID: {"needs_state": shop.HasNeeds, "age": 11},
				g[2].ID: {"needs_state": shop.HasNeeds}} {
				if err := db.Model(&shop.Guest{}).Where("id = ?", id).Updates(set).Error; err != nil {
					return err
				}
			}
			return db.Create(&shop.Need{GuestID: g[1].ID, Allergen: "sesame", Severe: true}).Error
		})
		sh, err := b.ClassSheet(b.Ctx, "B1")
		b.ok(err)
		var marks []string
		for _, l := range sh.Lines[:4] {
			marks = append(marks, strings.Join(l.Needs, ", "))
		}
		// A list without an entry is no answer either.
		if want := []string{"ASK", "SESAME – SEVERE", "ASK", "none"}; !slices.Equal(marks, want) {
			t.Errorf("marks %v, want %v", marks, want)
		}
		if len(sh.Lines) != 11 || sh.Minors != 1 || len(sh.Demos) != 1 || sh.Lines[0].Tags[0] != "B1-01" {
			t.Errorf("sheet: %d lines, %d minors, demos %v", len(sh.Lines), sh.Minors, sh.Demos)
		}
	})
}

// One slab seen from every side, from the tray to the hand.
func TestASlabSeenOnItsWay(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		id, two := b.party(14, "Solveig A.", "B3", laid{"MH", "4.40", false}, laid{"MC", "4.40", false})
		v, err := b.Slab(b.Ctx, " b3-01 ")
		b.ok(err)
		if v.Next != shop.Cut || v.Owner != "Solveig" || v.Ref != "K14" || v.JarCode != "MH" || v.Allergens != "mustard" {
			t.Errorf("view %+v", v)
		}
		_, err = b.Slab(b.Ctx, "B3-99")
		b.no(err, "could not be found")
		b.teach(two...)
		secret := b.mySlabSecret(id)
		m, err := b.MySlab(b.Ctx, secret)
		b.ok(err)
		if len(m.Slabs) != 2 || m.Slabs[0].Stage != 1 || m.From.Show() != "Sat Nov 7" || m.To != m.From || m.Slabs[0].Farm != "Harl Bank" || m.Slabs[0].Spice != "mustard & honey" {
			t.Errorf("my slab %+v", m)
		}
		b.Go("2026-10-30 12:00")
		rack, err := b.RackMap(b.Ctx)
		b.ok(err)
		if rack.Used != 2 || rack.Total != 36 || rack.Places[0].Tag != two[0] || rack.Places[0].Day != 6 || rack.Places[0].Due {
			t.Errorf("rack %d of %d: %+v", rack.Used, rack.Total, rack.Places[0])
		}
		hold, err := b.OpenHold(b.Ctx, storetest.Odile, "cure", nil, "door ajar")
		b.ok(err)
		m, err = b.MySlab(b.Ctx, secret)
		b.ok(err)
		if !m.Checked || m.Ready || !m.Slabs[0].Checked {
			t.Errorf("on hold the page says %+v", m)
		}
		if v, _ := b.Slab(b.Ctx, two[0]); v.Next != "" || v.HeldFor != "door ajar" {
			t.Errorf("view of a held slab %+v", v)
		}
		b.ok(b.Release(b.Ctx, storetest.Odile, hold, nil, "cold all along"))
		b.ok(b.NameCollector(b.Ctx, secret, "Eskil"))
		b.smoked("2026-11-05", "2026-11-06", two...)
		b.no(b.ChooseSliced(b.Ctx, secret, true), "smoked already")
		sh, err := b.SmokeSheet(b.Ctx, b.Today())
		b.ok(err)
		if sh.Used != 2 || sh.Bottom != 1 || !sh.Lines[1].BottomRow || sh.Lines[1].Jar != "MH" {
			t.Errorf("smoke sheet %+v", sh)
		}
		b.Go("2026-11-07 15:00")
		today, err := b.TodaySheet(b.Ctx)
		b.ok(err)
		if len(today.Pack) != 2 || len(today.Holds) != 0 {
			t.Errorf("today %+v", today)
		}
		b.pack(two...)
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[0]), "C2"))
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[1]), "C3"))
		if got, err := b.FindPickups(b.Ctx, "sol"); err != nil || len(got) != 1 || len(got[0].Ready) != 2 || got[0].Ready[0].Place != "C2" || !got[0].Ready[0].Told || got[0].Booking.Collector != "Eskil" {
			t.Errorf("pickups %+v, %v", got, err)
		}
		b.Go("2026-11-18 12:00")
		lines, err := b.Shelf(b.Ctx)
		b.ok(err)
		if len(lines) != 2 || lines[0].Days != 11 || lines[0].Over || lines[0].FreezeOn.Show() != "Sat Nov 21" {
			t.Errorf("shelf %+v", lines)
		}
		m, err = b.MySlab(b.Ctx, secret)
		b.ok(err)
		if !m.Ready || m.MayChange || m.Fetches != "Eskil" || m.Slabs[0].Finished == 0 {
			t.Errorf("ready, the page says %+v", m)
		}
		b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: id, To: "Eskil", Tags: two}))
		tr, err := b.SlabTrace(b.Ctx, two[0])
		b.ok(err)
		if tr.Back.Farm != "Harl Bank" || tr.Back.Plant != "Weirstone Yard" || !tr.Inspects || tr.Back.Side != "L" || len(tr.Weighed) != 1 || len(tr.Weighed[0].Lots) != 5 || len(tr.Places) != 3 || len(tr.Holds) != 1 {
			t.Errorf("trace %+v", tr)
		}
		if last := tr.Steps[len(tr.Steps)-1]; last.To != shop.Collected || last.Reading != "to Eskil" {
			t.Errorf("last step %+v", last)
		}
		if m, err := b.MySlab(b.Ctx, secret); err != nil || !m.Done {
			t.Errorf("fetched, the page says %+v, %v", m, err)
		}
		_, err = b.MySlab(b.Ctx, "nobodysnobodysnobodysnobody")
		b.no(err, "could not be found")
		_ = unit.Gram
	})
}

func (b *table) mySlabSecret(id shop.BookingID) string {
	b.t.Helper()
	var bk shop.Booking
	b.rows(func(db *gorm.DB) error { return db.Take(&bk, "id = ?", id).Error })
	link := b.SlabLink(&bk)
	return link[strings.LastIndex(link, "/")+1:]
}
