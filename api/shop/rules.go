package shop

import (
	"time"

	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// Rules are the shop's own rules: settings, not law. Each carries the number it is
// known by in the shop's book of rules. Limits of food safety stand with their
// source in the recipe and in planner/cure; local code, the inspector and the
// written plan decide.
type Rules struct {
	Zone string `json:"zone"` // IANA time zone of the shop's clocks

	PartyDeposit    int        `json:"party_deposit"`   // R2: parties of this many seats and more pay a deposit
	DepositShare    unit.Ratio `json:"deposit_share"`   // R2
	BalanceDays     int        `json:"balance_days"`    // R2: rest by this many days before
	PrivateDeposit  unit.Money `json:"private_deposit"` // R2
	PrivateBalance  int        `json:"private_balance"` // R2: days before
	PrivateAhead    int        `json:"private_ahead"`   // days from asking to a private event, at least
	PrivateWeeks    int        `json:"private_weeks"`   // weeks of free evenings that are shown
	EveningFrom     int        `json:"evening_from"`    // hours of an evening: nothing else in the room between them
	EveningTo       int        `json:"evening_to"`
	HoldOnline      int        `json:"hold_online"`       // R3: minutes
	HoldCounter     int        `json:"hold_counter"`      // R3: hours
	HoldGrace       int        `json:"hold_grace"`        // R3: minutes more once paying has begun
	FullBackDays    int        `json:"full_back_days"`    // R4: this many days before and more: all back
	ChooseDays      int        `json:"choose_days"`       // R4: this many and more: credit or half
	ChooseShare     unit.Ratio `json:"choose_share"`      // R4
	CreditMonths    int        `json:"credit_months"`     // R4
	CalledOffShare  unit.Ratio `json:"called_off_share"`  // R5: credit as a share of money paid
	AnswerDays      int        `json:"answer_days"`       // R5
	VoucherYears    int        `json:"voucher_years"`     // R7
	OfferHours      int        `json:"offer_hours"`       // R9
	OfferHoursLate  int        `json:"offer_hours_late"`  // R9: when the class is near
	OfferLateWithin int        `json:"offer_late_within"` // R9: hours that count as near
	DecideHour      int        `json:"decide_hour"`       // R10: order-by hour of the day
	LastLookDays    int        `json:"last_look_days"`    // R10: days before a bacon class on which the owner is asked again
	LastLookHour    int        `json:"last_look_hour"`    // R10: hour of the day
	LastLookUnder   int        `json:"last_look_under"`   // R10: with fewer seats taken; 0: not asked
	NeedsMissing    int        `json:"needs_missing"`     // R12: days before
	EraseDays       int        `json:"erase_days"`        // R14: after the last slab is fetched
	SoonDays        []int      `json:"soon_days"`         // reminders, days before
	MorningHour     int        `json:"morning_hour"`      // hour of reminders
	OwnerHour       int        `json:"owner_hour"`        // hour of the owner's list
	QuietFrom       int        `json:"quiet_from"`        // R40: hour
	QuietUntil      int        `json:"quiet_until"`       // R40: hour
	SlotsPerKill    int        `json:"slots_per_kill"`    // R20: of our pigs
	DemoSlabs       int        `json:"demo_slabs"`        // R17: per slab class
	BellyKeeps      int        `json:"belly_keeps"`       // R19: days a vacuum-packed raw belly keeps from kill to class
	PerHalf         int        `json:"per_half"`          // R17: guests a half, hindquarter or whole animal
	RemindFarm      int        `json:"remind_farm"`       // days before the order-by
	Values          []CutValue `json:"values"`            // R42: what a pound of each cut sells for
	InvoiceWeight   unit.Ratio `json:"invoice_weight"`    // by which a billed weight may differ from the one that hung
	InvoiceMoney    unit.Money `json:"invoice_money"`     // by which a bill may differ from the slip without a word
	ShrinkApart     unit.Ratio `json:"shrink_apart"`      // either side of a farm's usual chill shrink, of hot weight

	Class money.ClassCosts `json:"class"` // R42: what a class costs besides its seats

	SlabMin    unit.Weight `json:"slab_min"`    // R16, R23b
	SlabMax    unit.Weight `json:"slab_max"`    //
	SlabFixed  unit.Weight `json:"slab_fixed"`  // R16
	ShortPound unit.Money  `json:"short_pound"` // R23b: credit for a pound short of SlabFixed
	SeatApart  unit.Weight `json:"seat_apart"`  // R23
	CureDays   int         `json:"cure_days"`   // R27
	LatestDay  int         `json:"latest_day"`  // R27: latest unbag day
	UnbagDays  []int       `json:"unbag_days"`  // R28: weekdays, 0 = Sunday
	RackPlaces int         `json:"rack_places"` // R29
	Overflow   int         `json:"overflow"`    // R29
	Hooks      int         `json:"hooks"`       // R30
	HouseHooks [7]int      `json:"house_hooks"` // R30: by weekday of the smoke
	BottomRow  int         `json:"bottom_row"`  // R31
	RestPlaces int         `json:"rest_places"` // slabs that may lie between smoke and packing, the shop's own too; 0: not watched
	ShelfDays  int         `json:"shelf_days"`  // days a packet is counted on the ready shelf when a season is checked
	LeftShare  unit.Ratio  `json:"left_share"`  // of packets, counted as frozen for want of a collector
	TableSeats int         `json:"table_seats"` // at the tables at one time; 0: not watched
	Teachers   int         `json:"teachers"`    // who can teach at one time; 0: not watched
	SealBags   int         `json:"seal_bags"`   // bags the sealer takes at once; 0: not watched
	SealCycle  int         `json:"seal_cycle"`  // seconds
	SealFrom   int         `json:"seal_from"`   // minute of a class the first bags are sealed
	SealWithin int         `json:"seal_within"` // minutes of a class there are for sealing
	Cooling    string      `json:"cooling"`     // id of the cooling rule of the shop's written plan (heat.CoolingRules)
	UseByDays  int         `json:"use_by_days"` // R39
	PackDays   int         `json:"pack_days"`   // most days of a vacuum pack at 41 °F: 30 by Food Code 3-502.12, 14 in some places
	ThawedDays int         `json:"thawed_days"` // R39: once out of the freezer
	FrozenFor  int         `json:"frozen_for"`  // R39: months
	ChaseDays  []int       `json:"chase_days"`  // R38
	FreezeDay  int         `json:"freeze_day"`  // R38
	FinalDay   int         `json:"final_day"`   // R38
	AskDay     int         `json:"ask_day"`     // R38
	SpareShare unit.Ratio  `json:"spare_share"` // spices spare on the kit list
	SpareStep  unit.Weight `json:"spare_step"`  //
	FinishMin  unit.Ratio  `json:"finish_min"`  // R36
	FinishMax  unit.Ratio  `json:"finish_max"`  //

	TableFreeze   int         `json:"table_freeze"`   // days before a dinner on which its sheet freezes; later changes stand apart
	DinnerPortion unit.Weight `json:"dinner_portion"` // cooked meat a head
	WineAge       int         `json:"wine_age"`       // R11: youngest that wine is counted for

	CounterDays  []int  `json:"counter_days"`  // weekdays the counter is open
	CounterOpen  int    `json:"counter_open"`  // hour
	CounterClose int    `json:"counter_close"` // hour
	Handling     string `json:"handling"`      // safe-handling words for packet labels, copied by the shop from the regulation

	Variance       string `json:"variance"`        // number of the variance for curing and vacuum-packing; "" while there is none
	VarianceStrict bool   `json:"variance_strict"` // without it nothing is packed; else it is only said
}

// DefaultRules are the settings a new shop starts with, and those of the demo shop.
func DefaultRules() Rules {
	return Rules{
		Zone:         "America/Chicago",
		PartyDeposit: 5, DepositShare: 40 * unit.Percent, BalanceDays: 14,
		PrivateDeposit: 300_00, PrivateBalance: 7, PrivateAhead: 14, PrivateWeeks: 8, EveningFrom: 17, EveningTo: 22,
		HoldOnline: 20, HoldCounter: 72, HoldGrace: 10,
		FullBackDays: 14, ChooseDays: 7, ChooseShare: 50 * unit.Percent, CreditMonths: 24,
		CalledOffShare: 110 * unit.Percent, AnswerDays: 7, VoucherYears: 5,
		OfferHours: 24, OfferHoursLate: 4, OfferLateWithin: 48,
		DecideHour: 17, LastLookDays: 3, LastLookHour: 18, LastLookUnder: 4, NeedsMissing: 5, EraseDays: 90, SoonDays: []int{7, 1}, MorningHour: 10, OwnerHour: 7,
		QuietFrom: 20, QuietUntil: 8, SlotsPerKill: 4, DemoSlabs: 1,
		BellyKeeps: 14, PerHalf: 12, RemindFarm: 3,
		Values:        []CutValue{{"ham", 260}, {"loin", 440}, {"butt", 310}, {"picnic", 220}, {"ribs", 370}, {"belly", 470}, {"rest", 55}},
		InvoiceWeight: unit.Percent / 2, InvoiceMoney: 1_00, ShrinkApart: 3 * unit.Percent / 2,
		Class: money.ClassCosts{Skinless: 560, SkinOn: 470, Goods: 485, WorkMin: 12, WorkHour: 22_00,
			TeachMin: 150, TeachHour: 38_00, HelpMin: 150, HelpHour: 20_00},
		SlabMin: 425 * unit.Pound / 100, SlabMax: 575 * unit.Pound / 100, SlabFixed: 5 * unit.Pound, ShortPound: 8_00,
		SeatApart: unit.Pound / 10,
		CureDays:  12, LatestDay: 20, UnbagDays: []int{1, 4},
		RackPlaces: 36, Overflow: 8, Hooks: 24, HouseHooks: [7]int{2: 8, 5: 6}, BottomRow: 6,
		RestPlaces: 24, ShelfDays: 7, LeftShare: 5 * unit.Percent, TableSeats: 40, Teachers: 1, SealBags: 2, SealCycle: 90, SealFrom: 40, SealWithin: 20,
		Cooling:   "food code", // what holds for a shop without an approved plan of its own
		UseByDays: 21, PackDays: 30, ThawedDays: 7, FrozenFor: 3, ChaseDays: []int{3, 7, 10, 13}, FreezeDay: 14, FinalDay: 46, AskDay: 60,
		SpareShare: 15 * unit.Percent, SpareStep: 5 * unit.Gram,
		FinishMin: 78 * unit.Percent, FinishMax: 95 * unit.Percent,
		TableFreeze: 3, DinnerPortion: 6 * unit.Ounce, WineAge: 21,
		CounterDays: []int{2, 3, 4, 5, 6}, CounterOpen: 10, CounterClose: 18,
	}
}

// Location loads the shop's zone; an unknown name is an error for the person who
// wrote the setting.
func (r Rules) Location() (*time.Location, error) {
	loc, err := time.LoadLocation(r.Zone)
	if err != nil {
		return nil, Bad("zone", "The time zone %q is not known; write a name such as America/Chicago.", r.Zone)
	}
	return loc, nil
}

// OutOfQuiet returns at, or the end of the quiet hours it falls in (R40).
func (r Rules) OutOfQuiet(at unit.Instant, loc *time.Location) unit.Instant {
	h := at.In(loc).Hour()
	d := at.Day(loc)
	switch {
	case h >= r.QuietFrom:
		return (d + 1).At(r.QuietUntil, 0, loc)
	case h < r.QuietUntil:
		return d.At(r.QuietUntil, 0, loc)
	}
	return at
}
