package mail

import (
	"testing"
	"time"
	_ "time/tzdata"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A sample is one notice of the demo shop's story, as the store would hand it over.
type sample struct {
	notice shop.Notice
	facts  shop.Facts
}

var chicago = func() *time.Location {
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	return loc
}()

func corbel() House {
	return House{
		Name: "Corbel Street Butchery", Place: "Pellow Crossing", Address: "3 Corbel Street", Phone: "555-0100",
		Loc: chicago, Rules: shop.DefaultRules(), From: "hello@corbel.example.test",
		Domain: "corbel.example.test", BaseURL: "https://corbel.example.test",
	}
}

func at(s string) unit.Instant {
	t, err := time.ParseInLocation("2006-01-02 15:04", s, chicago)
	if err != nil {
		panic(err)
	}
	return unit.InstantOf(t)
}

func on(s string) unit.Day {
	d, err := unit.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

const (
	toBooking = "booking"
	toGuest   = "guest"
	toOrder   = "order"
	toVoucher = "voucher"
	toCredit  = "credit"
	toShop    = "shop"
)

// samples has one notice of every kind.
func samples() map[string]sample {
	all := map[string]sample{}
	add := func(kind, subject, who, written string, f shop.Facts) {
		f.Links.Season = "https://corbel.example.test/"
		name := map[string]string{"nerys": "Nerys D.", "brigid": "Brigid O.", "ignace": "Ignace V.", "farm": "Harl Bank", "shop": "Corbel Street Butchery"}[who]
		switch subject {
		case toBooking:
			f.Links.Booking, f.Links.Slab = "https://corbel.example.test/b/k2v7secret", "https://corbel.example.test/s/k2v7slab"
		case toGuest:
			f.Links.Guest, f.Links.Slab = "https://corbel.example.test/g/k2v7guest", "https://corbel.example.test/s/k2v7slab"
		case toOrder:
			f.Links.Order = "https://corbel.example.test/o/k2v7order"
		case toVoucher:
			f.Code = "k2v7-m3xp-q8rt-w4yn"
		case toCredit:
			f.Code = "c7-k2v7-m3xp-q8rt-w4yn"
		}
		all[kind] = sample{shop.Notice{Key: kind + "/28", Kind: kind, ToName: name, ToAddr: who + "@mail.example.test", Subject: subject, SubjectID: 28, DueAt: at(written), CreatedAt: at(written)}, f}
	}
	b5 := shop.Facts{Ref: "K28", Class: "Bacon-curing class", ClassCode: "B5", StartsAt: at("2026-11-07 14:00"), EndsAt: at("2026-11-07 16:30"), Seats: 2}
	with := func(change func(*shop.Facts)) shop.Facts { f := b5; change(&f); return f }
	wear := "Closed shoes that may get wet, sleeves that roll up, something warm: the cutting room is kept at 50 °F."
	invite := &shop.Invite{UID: "class-5@corbel.example.test", Title: "Bacon-curing class", Text: "Corbel Street Butchery. Closed shoes.", StartsAt: b5.StartsAt, EndsAt: b5.EndsAt}
	moved, off := *invite, *invite
	moved.Sequence = 1
	off.Sequence, off.Cancel = 1, true

	add(shop.NoticeHeld, toBooking, "nerys", "2026-10-20 20:09", with(func(f *shop.Facts) { f.Total, f.Owes, f.Until = 210_00, 210_00, at("2026-10-23 20:09") }))
	add(shop.NoticeBooked, toBooking, "nerys", "2026-10-20 20:10", with(func(f *shop.Facts) {
		f.Total, f.Paid, f.ReadyOn, f.Wear, f.Invite = 210_00, 210_00, on("2026-11-21"), wear, invite
	}))
	add(shop.NoticePaid, toBooking, "nerys", "2026-10-21 11:00", with(func(f *shop.Facts) { f.Total, f.Paid = 210_00, 210_00 }))
	add(shop.NoticeWaiting, toBooking, "brigid", "2026-10-25 12:00", with(func(f *shop.Facts) { f.Seats = 4 }))
	add(shop.NoticeOffered, toBooking, "brigid", "2026-10-26 09:30", with(func(f *shop.Facts) { f.Seats, f.Total, f.Until = 1, 105_00, at("2026-10-27 09:30") }))
	add(shop.NoticeOfferLapsed, toBooking, "brigid", "2026-10-27 09:30", b5)
	add(shop.NoticeGuestNamed, toGuest, "nerys", "2026-10-20 20:11", with(func(f *shop.Facts) { f.From, f.Wear, f.Total, f.Paid = "Brigid O.", wear, 380_00, 380_00 }))
	add(shop.NoticeNeedsMissing, toBooking, "brigid", "2026-11-02 10:00", with(func(f *shop.Facts) {
		f.Lines = []string{"Maud", "a guest without a name yet", "another without a name yet"}
	}))
	add(shop.NoticeBalanceDue, toBooking, "brigid", "2026-10-17 10:00", with(func(f *shop.Facts) {
		f.Seats, f.Total, f.Paid, f.Owes, f.DueOn = 6, 570_00, 228_00, 342_00, on("2026-10-24")
	}))
	add(shop.NoticeClassSoon, toGuest, "nerys", "2026-11-06 10:00", with(func(f *shop.Facts) {
		f.Wear, f.Owes, f.DueOn = wear, 342_00, on("2026-10-24")
		f.Asked = []shop.Question{{Text: "May I bring my own knife roll?", Answer: "Yes, if it stays in its roll until the instructor says."}, {Text: "Where do I park?", Answer: "In the yard behind the shop."}}
	}))
	add(shop.NoticeClassEvening, toGuest, "nerys", "2026-11-07 18:00", with(func(f *shop.Facts) { f.Tags, f.ReadyOn = []string{"B5-10", "B5-11"}, on("2026-11-21") }))
	add(shop.NoticeClassMoved, toBooking, "brigid", "2026-10-05 11:00", with(func(f *shop.Facts) {
		f.WasAt, f.Reason, f.Until, f.Back, f.Credit, f.Invite = at("2026-11-05 14:00"), "the slaughterhouse closes for two weeks", at("2026-10-12 18:00"), 210_00, 231_00, &moved
	}))
	add(shop.NoticeClassOff, toBooking, "brigid", "2026-08-30 17:10", with(func(f *shop.Facts) {
		f.Reason, f.DueOn, f.Back, f.Credit, f.Invite = "too few people to order the animal", on("2026-09-06"), 360_00, 396_00, &off
	}))
	add(shop.NoticeLetGo, toBooking, "brigid", "2026-10-20 10:00", with(func(f *shop.Facts) { f.Back, f.Credit, f.DueOn, f.Invite = 82_50, 165_00, on("2028-10-20"), &off }))
	add(shop.NoticeReturned, toBooking, "nerys", "2026-10-20 20:41", shop.Facts{Ref: "K28", Back: 210_00,
		Reason: "It came after your seats were let go. You now stand first on the waiting list."})
	add(shop.NoticeCredit, toCredit, "brigid", "2026-10-16 11:01", with(func(f *shop.Facts) {
		f.Credit, f.DueOn, f.Reason = 95_00, on("2028-10-16"), "Your seat has been sold again."
	}))
	add(shop.NoticePickReopened, toBooking, "brigid", "2026-10-02 12:00", with(func(f *shop.Facts) {
		f.Lines, f.Until, f.Reason, f.From = []string{"sesame & chilli"}, at("2026-11-05 14:00"), "Casper is allergic to sesame", "Casper N."
	}))
	add(shop.NoticeDateMoved, toGuest, "nerys", "2026-10-20 12:30", with(func(f *shop.Facts) {
		f.OldReadyOn, f.ReadyOn, f.Tags, f.Reason = on("2026-11-21"), on("2026-11-25"), []string{"B5-10"}, "The cure room was too cold for a while, and cure slows in the cold."
	}))
	add(shop.NoticeHoldTold, toGuest, "nerys", "2026-11-10 04:15", with(func(f *shop.Facts) { f.Tags, f.Until = []string{"B5-10"}, at("2026-11-12 18:00") }))
	add(shop.NoticeReady, toBooking, "ignace", "2026-11-14 15:20", with(func(f *shop.Facts) {
		f.Tags, f.UseBy, f.Until = []string{"B4-03"}, on("2026-12-05"), at("2026-11-28 18:00")
		f.StartsAt, f.EndsAt = at("2026-11-14 15:20"), at("2026-11-14 18:00")
	}))
	add(shop.NoticeCollect, toBooking, "ignace", "2026-11-28 10:00", with(func(f *shop.Facts) {
		f.Tags, f.Days, f.UseBy, f.Until = []string{"B4-03"}, 14, on("2026-12-05"), at("2026-11-28 18:00")
		f.StartsAt, f.EndsAt = at("2026-11-28 10:00"), at("2026-11-28 18:00")
	}))
	add(shop.NoticeFreezer, toBooking, "ignace", "2026-11-28 18:00", with(func(f *shop.Facts) { f.Tags, f.DueOn = []string{"B4-03"}, on("2027-01-13") }))
	add(shop.NoticeFinal, toBooking, "ignace", "2026-12-30 10:00", with(func(f *shop.Facts) { f.Tags, f.DueOn = []string{"B4-03"}, on("2027-01-13") }))
	add(shop.NoticeCollected, toBooking, "ignace", "2026-12-19 11:00", with(func(f *shop.Facts) { f.Tags, f.From = []string{"B4-03"}, "his sister" }))
	add(shop.NoticeDumped, toBooking, "nerys", "2026-11-09 10:00", with(func(f *shop.Facts) {
		f.Tags, f.Reason, f.Until, f.Back = []string{"B5-10", "B5-11"}, "The cooler was too warm for longer than we allow.", at("2026-11-12 18:00"), 210_00
	}))
	add(shop.NoticeMissed, toGuest, "nerys", "2026-11-07 17:00", with(func(f *shop.Facts) { f.Until, f.ReadyOn = at("2026-11-10 17:00"), on("2026-11-25") }))
	add(shop.NoticeRecall, toBooking, "nerys", "2026-11-05 23:00", with(func(f *shop.Facts) {
		f.Tags, f.Reason = []string{"B5-10"}, "A black pepper that went on it has been called back by its maker."
	}))
	add(shop.NoticeAfter, toGuest, "nerys", "2026-11-28 10:00", b5)
	add(shop.NoticeVoucherSold, toVoucher, "brigid", "2026-10-12 15:00", shop.Facts{Class: "Bacon-curing class", Paid: 95_00, DueOn: on("2031-10-12"), Until: at("2026-11-25 10:00"), From: "your father"})
	add(shop.NoticeVoucherGift, toVoucher, "ignace", "2026-11-25 10:00", shop.Facts{Class: "Bacon-curing class", DueOn: on("2031-10-12"), From: "Ulla"})
	order := shop.Facts{Ref: "Order 3", Farm: "Harl Bank", Plant: "Weirstone Yard", Species: "pork", Animals: 4, HangWeight: unit.WeightOfPounds(206), KillDay: on("2026-10-21"), DeliverOn: on("2026-10-22"), Until: at("2026-09-30 17:00"), Lines: []string{
		"We pay $2.40 a pound of hot carcass weight, and $20.00 haul for each animal delivered.",
		"We pay the plant's kill fee of $70.00 for each animal killed.",
		"A carcass condemned at inspection is borne by the farm: it is not paid for. Its kill fee is still paid by the shop.",
	}}
	add(shop.NoticeOrderAsked, toOrder, "farm", "2026-09-28 09:00", order)
	add(shop.NoticeOrderRemind, toOrder, "farm", "2026-09-27 10:00", order)
	changed := order
	changed.Animals, changed.Promised, changed.Reason = 3, 4, "One class is smaller than we thought."
	add(shop.NoticeOrderChanged, toOrder, "farm", "2026-09-29 09:00", changed)
	thanks := order
	thanks.Lines = nil
	thanks.Animals, thanks.Weights, thanks.Total = 3, []string{"HB-211: 206 lb", "HB-212: 206 lb", "HB-213: 206 lb", "HB-214: condemned"}, 1483_20
	add(shop.NoticeOrderThanks, toOrder, "farm", "2026-10-22 12:00", thanks)
	gave := order
	gave.Animals, gave.KillDay = 2, on("2026-10-07")
	gave.Weights = []string{"pig 1 (HB-611): 208.00 lb hot, 201.80 lb cold; L belly 16.10 lb, 3 × 4.38 lb; R belly 16.19 lb, 3 × 4.40 lb", "pig 2 (HB-612): 188.00 lb hot, 182.40 lb cold; L belly 14.53 lb, 3 × 4.60 lb with the skin on; R belly 14.66 lb, 3 × 4.64 lb with the skin on"}
	gave.Lines = []string{"396.00 lb hot, 384.20 lb cold on our scale: 3.0 % lost between the two.", "12 slabs: 2 bellies of 4 gave three slabs skinless, 2 only with the skin on.", "Since Thu Jan 1, 2026: 2 pigs hung, 198.00 lb a head; 2 bellies of 4 gave three slabs skinless, 2 only with the skin on."}
	add(shop.NoticeYieldNote, toOrder, "farm", "2026-10-12 09:00", gave)
	add(shop.NoticeOwnerMorning, toShop, "shop", "2026-10-06 07:00", shop.Facts{Lines: []string{"Order 4, Harl Bank, 2 pigs: needed, order by today (Tue Oct 6), 17:00", "B4, Sat Oct 31, 14:00: 3 of 10 seats sold, fewest is 6; decide by Tue Oct 6, 17:00"}})
	add(shop.NoticeOwnerTask, toShop, "shop", "2026-10-06 12:00", shop.Facts{Class: "Bacon-curing class", ClassCode: "B4", StartsAt: at("2026-10-31 14:00"), EndsAt: at("2026-10-31 16:30"), Until: at("2026-10-06 17:00"), Reason: "3 of 10 seats are sold; the fewest is 6.", Lines: []string{"Go ahead: the bellies left over become house bacon (8 slabs).", "Call off: 3 bookings to be told, $285.00 to give back."}})
	add(shop.NoticeHoldAlarm, toShop, "shop", "2026-11-08 04:15", shop.Facts{Places: []string{"Cure cooler"}, StartsAt: at("2026-11-08 04:15"), Reason: "Above 41 °F for more than two hours, since Sun Nov 8, 02:00; 44.1 °F now.", Tags: []string{"B4-01", "B4-02", "B5-01"}})
	answered := order
	answered.Lines = nil
	answered.Promised, answered.Reason = 3, "Three are ready, the fourth needs two more weeks."
	add(shop.NoticeFarmAnswered, toOrder, "shop", "2026-09-29 14:00", answered)
	add(shop.NoticeLetter, toBooking, "brigid", "2026-10-22 09:00", shop.Facts{Ref: "K16", Reason: "Would you come another Saturday?", Lines: []string{
		"less meat came from the farm than we had been promised, so for your class on Sat Oct 24 we have two slabs too few.",
		"If you would come on Sat Oct 31 instead we would thank you with a tenth of what you paid as credit. If not, nothing changes for you.",
	}})
	return all
}

func compose(t testing.TB, s sample) Message {
	t.Helper()
	m, err := Compose(s.notice, s.facts, corbel())
	if err != nil {
		t.Fatalf("%s: %v", s.notice.Kind, err)
	}
	return m
}
