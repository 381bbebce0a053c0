package reckon

import (
	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

var givebackKind = define("giveback", "what comes back, and as what, when people leave a class or the shop calls it off", givebackExample, runGiveback)

type givebackIn struct {
	Why   string          `json:"why" enum:"leaving,called off"`
	Today unit.Day        `json:"today"`
	Class unit.Day        `json:"class" doc:"day of the class"`
	Seats []givebackSeat  `json:"seats" minItems:"1" maxItems:"200" doc:"every seat of the party, those that stay too"`
	Paid  []paidIn        `json:"paid" maxItems:"200" doc:"in the order in which it was paid"`
	Wants string          `json:"wants,omitempty" enum:"money,credit" doc:"when the shop calls off; money without it"`
	Rules *givebackRuleIn `json:"rules,omitempty" doc:"the shop's; the house rules without them"`
}

type givebackSeat struct {
	Name   string     `json:"name,omitempty"`
	Price  unit.Money `json:"price"`
	Leaves bool       `json:"leaves,omitempty"`
	Wants  string     `json:"wants,omitempty" enum:"money,credit" doc:"where there is a choice"`
}

type paidIn struct {
	With   string     `json:"with" enum:"money,credit,voucher"`
	Name   string     `json:"name,omitempty" doc:"the card, the code"`
	Amount unit.Money `json:"amount"`
	Whole  bool       `json:"whole,omitempty" doc:"a voucher for a seat: comes back whole or not at all"`
}

type givebackRuleIn struct {
	FullBackDays   int        `json:"full_back_days" minimum:"0" maximum:"400"`
	ChooseDays     int        `json:"choose_days" minimum:"0" maximum:"400"`
	ChooseShare    unit.Ratio `json:"choose_share"`
	CalledOffShare unit.Ratio `json:"called_off_share"`
}

type givebackOut struct {
	Paid     unit.Money       `json:"paid"`
	Seats    []leavingOut     `json:"seats"`
	Money    unit.Money       `json:"money_back"`
	Credit   unit.Money       `json:"credit"`
	IfSold   unit.Money       `json:"credit_if_sold_again"`
	Restored unit.Money       `json:"restored" doc:"credits and vouchers that come back as they were"`
	Kept     unit.Money       `json:"kept" doc:"by the shop, as long as no seat is sold again"`
	Stays    unit.Money       `json:"stays" doc:"with the seats that stay"`
	Returned []returnedOut    `json:"returned" doc:"in the order of giving back: money, credit, vouchers"`
	Choices  []givebackChoice `json:"choices,omitempty" doc:"when the shop calls off"`
}

type leavingOut struct {
	Name   string     `json:"name,omitempty"`
	Paid   unit.Money `json:"paid" doc:"for this seat, of what the party has paid"`
	Days   int        `json:"days"`
	Money  unit.Money `json:"money"`
	Credit unit.Money `json:"credit"`
	IfSold unit.Money `json:"if_sold"`
	Why    string     `json:"why"`
	Words  string     `json:"words" doc:"as the guest reads it before pressing"`
}

type returnedOut struct {
	From   string     `json:"from"`
	Name   string     `json:"name,omitempty"`
	As     string     `json:"as"`
	Amount unit.Money `json:"amount"`
}

type givebackChoice struct {
	Choice string     `json:"choice"`
	Money  unit.Money `json:"money"`
	Credit unit.Money `json:"credit"`
	Words  string     `json:"words"`
}

func givebackExample() givebackIn {
	seats := make([]givebackSeat, 6)
	for i := range seats {
		seats[i].Price = 165_00
	}
	seats[0].Leaves, seats[0].Wants = true, "money"
	seats[1].Leaves, seats[1].Wants = true, "credit"
	return givebackIn{Why: "leaving", Today: unit.DayOf(2026, 10, 20), Class: unit.DayOf(2026, 10, 29), Seats: seats,
		Paid: []paidIn{{With: "money", Name: "card", Amount: 396_00}, {With: "money", Name: "card", Amount: 594_00}}}
}

var paidKinds = map[string]money.Kind{"money": money.Cash, "credit": money.Credit, "voucher": money.Voucher}

func runGiveback(in givebackIn) (givebackOut, error) {
	out := givebackOut{Seats: []leavingOut{}, Returned: []returnedOut{}}
	var faults unit.Faults
	h := shop.DefaultRules()
	rules := money.Rules{FullBackDays: h.FullBackDays, ChooseDays: h.ChooseDays, ChooseShare: h.ChooseShare, CalledOffShare: h.CalledOffShare}
	if r := in.Rules; r != nil {
		rules = money.Rules{FullBackDays: r.FullBackDays, ChooseDays: r.ChooseDays, ChooseShare: r.ChooseShare, CalledOffShare: r.CalledOffShare}
		if r.ChooseDays > r.FullBackDays {
			faults.Add("rules.choose_days", "the choice cannot begin before all money comes back")
		}
		if r.ChooseShare < 0 || r.ChooseShare > unit.One {
			faults.Add("rules.choose_share", "a share of what was paid lies between nothing and all of it")
		}
		if r.CalledOffShare < 0 || r.CalledOffShare > 10*unit.One {
			faults.Add("rules.called_off_share", "a credit is worth at most ten times what was paid")
		}
	}
	if in.Class < in.Today {
		faults.Add("class", "the class is over; seats can no longer be let go")
	}
	g := giver{}
	for i, p := range in.Paid {
		if p.Amount <= 0 || p.Amount > mostMoney {
			faults.Add(at("paid", i)+".amount", "a payment lies above nothing and under "+mostMoney.String())
		}
		if p.Whole && p.With != "voucher" {
			faults.Add(at("paid", i)+".whole", "only a voucher can be for a whole seat")
		}
		out.Paid += p.Amount
		g.paid = append(g.paid, money.Source{Kind: paidKinds[p.With], ID: int64(i), Name: p.Name, Cents: p.Amount, Whole: p.Whole})
	}
	prices := make([]unit.Money, len(in.Seats))
	var total unit.Money
	leaves := false
	for i, s := range in.Seats {
		if s.Price < 0 || s.Price > mostMoney {
			faults.Add(at("seats", i)+".price", "a price lies between nothing and "+mostMoney.String())
		}
		prices[i], leaves = s.Price, leaves || s.Leaves
		total += s.Price
	}
	if out.Paid > total {
		faults.Add("paid", out.Paid.String()+" were paid for seats of "+total.String())
	}
	if in.Why == "leaving" && !leaves {
		faults.Add("seats", "say which of them leave")
	}
	if err := faults.Err(); err != nil {
		return givebackOut{}, err
	}
	if in.Why == "called off" {
		g.calledOff(&out, in.Wants, rules)
		return out, nil
	}
	for i, share := range money.Shares(out.Paid, prices) {
		s := in.Seats[i]
		if !s.Leaves {
			out.Stays += share
			continue
		}
		l := money.Leave(share, in.Today, in.Class, rules)
		out.Seats = append(out.Seats, leavingOut{s.Name, share, l.Days, l.Money, l.Credit, l.IfSold, l.Why, l.Words()})
		amount, as := l.Money, "money"
		switch {
		case l.Tier == money.IfSoldNew:
			amount = 0
			out.IfSold += l.IfSold
		case l.Tier == money.Choose && s.Wants == "" && share > 0:
			faults.Add(at("seats", i)+".wants", "please choose: "+l.Words())
		case s.Wants == "credit":
			amount, as = l.Credit, "credit"
		}
		out.Kept += share - amount
		g.back(&out, amount, as)
	}
	if err := faults.Err(); err != nil {
		return givebackOut{}, err
	}
	return out, nil
}

// mostMoney bounds what one party pays.
const mostMoney unit.Money = 1_000_000_00

// A giver hands back out of what a party paid with, never twice out of the same.
type giver struct{ paid []money.Source }

// back gives amount back in the reverse order of paying (R8): money as money or as
// credit, credits and vouchers as they were.
func (g *giver) back(out *givebackOut, amount unit.Money, as string) {
	parts, rest := money.GiveBack(amount, g.paid)
	for _, p := range parts {
		g.paid[p.ID].Cents -= p.Cents
		r := returnedOut{Name: p.Name, As: as, Amount: p.Cents}
		switch p.Kind {
		case money.Cash:
			r.From = "money"
			if as == "credit" {
				out.Credit += p.Cents
			} else {
				out.Money += p.Cents
			}
		case money.Credit:
			r.From, r.As = "credit", "credit as it was"
			out.Restored += p.Cents
		case money.Voucher:
			r.From, r.As = "voucher", "voucher as it was"
			out.Restored += p.Cents
		}
		out.Returned = append(out.Returned, r)
	}
	if rest > 0 { // part of a voucher for a whole seat
		out.Credit += rest
		out.Returned = append(out.Returned, returnedOut{From: "voucher", As: "credit", Amount: rest})
	}
}

// calledOff is the shop's own doing (R5): all money back, or a credit for more than it.
func (g *giver) calledOff(out *givebackOut, wants string, r money.Rules) {
	var cash unit.Money
	for _, p := range g.paid {
		if p.Kind == money.Cash {
			cash += p.Cents
		}
	}
	raised := money.CalledOffCredit(cash, r)
	out.Choices = []givebackChoice{
		{"money", cash, 0, cash.String() + " back; vouchers and credits as they were"},
		{"credit", 0, raised, raised.String() + " credit for " + cash.String() + "; vouchers and credits as they were"},
		{"another date", 0, 0, "a move without cost"},
	}
	as := wants
	if as == "" {
		as = "money"
	}
	g.back(out, out.Paid, as)
	if as == "credit" {
		out.Credit += raised - cash
		for i := range out.Returned {
			if out.Returned[i].From == "money" {
				out.Returned[i].As = "credit, " + r.CalledOffShare.String() + " of it"
			}
		}
	}
}
