package store_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A table is a furnished shop with classes, parties and meat laid out for the bench.
type table struct {
	*storetest.House
	t       *testing.T
	classes map[string]*shop.Class
	numbers map[string]int
	jars    map[string]shop.JarID
	sideOf  shop.SideID
	pieces  int
	animals int
}

func lay(t *testing.T, h *storetest.House) *table {
	t.Helper()
	b := &table{House: h, t: t, classes: map[string]*shop.Class{}, numbers: map[string]int{}, jars: map[string]shop.JarID{}}
	b.rows(func(db *gorm.DB) error {
		var jars []shop.Jar
		if err := db.Find(&jars).Error; err != nil {
			return err
		}
		for _, j := range jars {
			b.jars[j.Code] = j.ID
		}
		var farm shop.Farm
		var plant shop.Plant
		if err := errors.Join(db.Take(&farm, "code = ?", "harl").Error, db.Order("id").Take(&plant).Error); err != nil {
			return err
		}
		kill := shop.KillDay{PlantID: plant.ID, Day: unit.DayOf(2026, 10, 7), DeliveryDay: unit.DayOf(2026, 10, 8)}
		if err := db.Create(&kill).Error; err != nil {
			return err
		}
		o := shop.Order{Number: 900, FarmID: farm.ID, KillDayID: kill.ID, Species: "pork", State: shop.Delivered, TokenHash: "order-900"}
		if err := db.Create(&o).Error; err != nil {
			return err
		}
		d := shop.Delivery{OrderID: o.ID, Day: kill.DeliveryDay, Legend: plant.Number, Lot: "HB-1008"}
		if err := db.Create(&d).Error; err != nil {
			return err
		}
		b.pieces = 3
		return b.nextBelly(db, o.ID, d.ID)
	})
	return b
}

func (b *table) nextBelly(db *gorm.DB, order shop.OrderID, delivery shop.DeliveryID) error {
	b.animals++
	a := shop.Animal{OrderID: order, DeliveryID: delivery, Number: b.animals, Tag: fmt.Sprintf("HB-%d", 600+b.animals), Species: "pork", KilledOn: unit.DayOf(2026, 10, 7)}
	if err := db.Create(&a).Error; err != nil {
		return err
	}
	s := shop.Side{AnimalID: a.ID, Which: "L", Cold: unit.WeightOfPounds(100)}
	if err := db.Create(&s).Error; err != nil {
		return err
	}
	b.sideOf = s.ID
	b.pieces = 0
	return db.Create(&shop.Belly{SideID: s.ID, Weight: 16 * unit.Pound}).Error
}

func (b *table) rows(fn func(*gorm.DB) error) {
	b.t.Helper()
	if err := b.Rows(b.Ctx, fn); err != nil {
		b.t.Fatal(err)
	}
}

// class puts a bacon class on the calendar.
func (b *table) class(code, start string) *shop.Class {
	b.t.Helper()
	at := b.At(start)
	c := &shop.Class{Code: code, Title: "Cure your own bacon", StartsAt: at, EndsAt: at + 9000, Day: at.Day(b.Loc), Seats: 12, State: shop.GoingAhead, DemoSlabs: 1}
	b.rows(func(db *gorm.DB) error {
		var k shop.ClassKind
		if err := db.Take(&k, "code = ?", "bacon").Error; err != nil {
			return err
		}
		c.KindID = k.ID
		return db.Create(c).Error
	})
	b.classes[code] = c
	return c
}

// A laid slab: its pick ("day" for on the day, "" for the shop's own) and its weight.
type laid struct {
	pick, pounds string
	skin         bool
}

// party seats people with one slab each; the slabs are wanted and have their tags.
func (b *table) party(number int, who, code string, slabs ...laid) (shop.BookingID, []string) {
	b.t.Helper()
	c := b.classes[code]
	first := strings.ToLower(strings.Fields(who)[0])
	bk := shop.Booking{Number: number, ClassID: c.ID, State: shop.Firm, PayerName: who, PayerEmail: first + "@post.example.test", TokenHash: fmt.Sprintf("b%d", number), LinkNo: 100 + number, SlabHash: b.SlabHashOf(100 + number), FirmAt: b.Now()}
	var tags []string
	b.rows(func(db *gorm.DB) error {
		if err := db.Create(&bk).Error; err != nil {
			return err
		}
		for i, l := range slabs {
			name := who
			if i > 0 {
				name = fmt.Sprintf("Friend%d of %s", i, who)
			}
			g := shop.Guest{BookingID: bk.ID, Name: name, TokenHash: fmt.Sprintf("g%d-%d", number, i), NeedsState: shop.NoNeeds}
			if err := db.Create(&g).Error; err != nil {
				return err
			}
			s := shop.Seat{BookingID: bk.ID, ClassID: c.ID, GuestID: g.ID, Kind: shop.SlabSeat, Slabs: 1, Position: i + 1, State: shop.Firm}
			if err := db.Create(&s).Error; err != nil {
				return err
			}
			p := shop.Pick{SeatID: s.ID, Slot: 1, JarID: b.jars[l.pick], State: shop.PickMade}
			if l.pick == "day" {
				p.State = shop.OnTheDay
			}
			if err := db.Create(&p).Error; err != nil {
				return err
			}
			tag, err := b.slab(db, c, s.ID, l)
			if err != nil {
				return err
			}
			tags = append(tags, tag)
		}
		return nil
	})
	return bk.ID, tags
}

// demo adds the shop's own slab.
func (b *table) demo(code, pounds string) string {
	b.t.Helper()
	var tag string
	b.rows(func(db *gorm.DB) (err error) {
		tag, err = b.slab(db, b.classes[code], 0, laid{pounds: pounds})
		return err
	})
	return tag
}

func (b *table) slab(db *gorm.DB, c *shop.Class, seat shop.SeatID, l laid) (string, error) {
	if b.pieces == 3 {
		if err := b.nextBelly(db, 1, 1); err != nil {
			return "", err
		}
	}
	b.pieces++
	b.numbers[c.Code]++
	n := b.numbers[c.Code]
	sl := shop.Slab{Tag: shop.Tag(c.Code, n), ClassID: c.ID, Number: n, SeatID: seat, Slot: 1, Demo: seat == 0, BellyID: shop.BellyID(b.animals), Piece: b.pieces,
		SkinOn: l.skin, Planned: b.lb(l.pounds), State: shop.Wanted}
	if seat == 0 {
		sl.Slot = 0
	}
	return sl.Tag, db.Create(&sl).Error
}

func (b *table) lb(pounds string) unit.Weight {
	b.t.Helper()
	w, err := unit.ParseWeightIn(pounds, unit.Pound)
	if err != nil {
		b.t.Fatal(err)
	}
	return w
}

func (b *table) get(tag string) shop.Slab {
	b.t.Helper()
	var sl shop.Slab
	b.rows(func(db *gorm.DB) error { return db.Take(&sl, "tag = ?", tag).Error })
	return sl
}

func (b *table) want(tag string, state shop.SlabState) {
	b.t.Helper()
	if got := b.get(tag).State; got != state {
		b.t.Errorf("%s is %q, want %q", tag, got, state)
	}
}

// ok stops the test on an error; no wants a refusal that says something.
func (b *table) ok(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *table) no(err error, says ...string) {
	b.t.Helper()
	if err == nil {
		b.t.Errorf("nothing was refused, want %q", says)
		return
	}
	if _, ok := shop.AsError(err); !ok {
		b.t.Errorf("a refusal people cannot read: %v", err)
		return
	}
	for _, s := range says {
		if !strings.Contains(err.Error(), s) {
			b.t.Errorf("refused with %q, want it to say %q", err, s)
		}
	}
}

func on(tag string) store.Scan { return store.Scan{Tag: tag} }

// cut, kit and weigh bring slabs to where they may be sealed, weighing exactly what the
// ticket asks for.
func (b *table) cut(tags ...string) {
	b.t.Helper()
	for _, tag := range tags {
		sl := b.get(tag)
		b.ok(b.CutSlab(b.Ctx, storetest.Tobias, on(tag), store.Cutting{Weight: sl.Planned, SkinOn: sl.SkinOn, GuestYes: true}))
	}
}

func (b *table) ticket(tag string) shop.CureTicket {
	b.t.Helper()
	var k shop.CureTicket
	b.rows(func(db *gorm.DB) error {
		return db.Take(&k, "superseded_at = 0 AND slab_id = ?", b.get2(db, tag).ID).Error
	})
	return k
}

func (b *table) get2(db *gorm.DB, tag string) shop.Slab {
	var sl shop.Slab
	if err := db.Take(&sl, "tag = ?", tag).Error; err != nil {
		b.t.Fatal(err)
	}
	return sl
}

func weighed(k shop.CureTicket) store.Weighed {
	w := store.Weighed{Salt: k.Salt.Number(unit.Gram, 0), Sugar: k.Sugar.Number(unit.Gram, 0), Cure: k.Cure.Number(unit.Gram, 1), Scale: "cure scale"}
	if k.Spice > 0 {
		w.Spice = k.Spice.Number(unit.Gram, 0)
	}
	return w
}

func (b *table) weigh(tags ...string) {
	b.t.Helper()
	b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", 5*unit.Gram))
	for _, tag := range tags {
		b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tag)))
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), weighed(b.ticket(tag))))
	}
}

func (b *table) seal(tags ...string) {
	b.t.Helper()
	for _, tag := range tags {
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""))
	}
}

// teach brings slabs from the cutting table into the cure on the spot.
func (b *table) teach(tags ...string) {
	b.t.Helper()
	b.cut(tags...)
	b.weigh(tags...)
	b.seal(tags...)
}

// smoked brings slabs in cure to resting along one chain.
func (b *table) smoked(unbag, smoke string, tags ...string) {
	b.t.Helper()
	b.Go(smoke + " 07:00")
	day := b.Today()
	b.Go(unbag + " 09:00")
	if _, err := b.PlanLoad(b.Ctx, storetest.Tobias, day); err != nil {
		b.t.Fatal(err)
	}
	for _, tag := range tags {
		b.ok(b.Rinse(b.Ctx, storetest.Tobias, on(tag), 0))
	}
	b.Go(smoke + " 08:00")
	for _, tag := range tags {
		b.ok(b.Hang(b.Ctx, storetest.Tobias, on(tag), ""))
	}
	b.Go(smoke + " 15:30")
	for _, tag := range tags {
		b.ok(b.OutOfSmoke(b.Ctx, storetest.Tobias, on(tag), unit.TempOfF(146)))
	}
	b.chilled(smoke)
}

// chilled writes down a chill that passes: 135 to 70 °F within two hours, to 41 °F within
// six (Food Code 3-501.14).
func (b *table) chilled(smoke string) {
	b.t.Helper()
	b.Go(smoke + " 21:00")
	b.ok(b.AddLines(b.Ctx, storetest.Tobias, b.Today(), shop.ChillPhase, b.lines("16:15 100", "17:00 68", "19:00 48", "21:00 40")))
}

// lines are readings of today: a clock time and a core in °F.
func (b *table) lines(texts ...string) []store.LineIn {
	b.t.Helper()
	var out []store.LineIn
	for _, text := range texts {
		var h, m int
		var f float64
		if _, err := fmt.Sscanf(text, "%d:%d %f", &h, &m, &f); err != nil {
			b.t.Fatal(err)
		}
		core := unit.TempOfF(f)
		out = append(out, store.LineIn{At: b.Today().At(h, m, b.Loc), Core: &core})
	}
	return out
}

func (b *table) pack(tags ...string) {
	b.t.Helper()
	for _, tag := range tags {
		b.ok(b.Pack(b.Ctx, storetest.Tobias, on(tag), b.get(tag).Green.Share(85*unit.Percent)))
	}
}

func (b *table) notices(where string, args ...any) []shop.Notice {
	b.t.Helper()
	var n []shop.Notice
	b.rows(func(db *gorm.DB) error { return db.Where(where, args...).Order("due_at, id").Find(&n).Error })
	return n
}

func (b *table) count(model any, where string, args ...any) int64 {
	b.t.Helper()
	var n int64
	b.rows(func(db *gorm.DB) error { return db.Model(model).Where(where, args...).Count(&n).Error })
	return n
}
