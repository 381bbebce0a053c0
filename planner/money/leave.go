package money

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Tier is how near the class is when somebody leaves (R4).
type Tier int

// The tiers.
const (
	AllBack   Tier = iota // far enough: all money back
	Choose                // credit in full, or a share back
	IfSoldNew             // nothing, unless the seat is sold again: then credit in full
)

// Leaving is what one seat gives back.
type Leaving struct {
	Days   int // from today to the class, in calendar days
	Tier   Tier
	Money  unit.Money // back at once when money is chosen
	Credit unit.Money // credited at once when credit is chosen; 0 when that is not offered
	IfSold unit.Money // credited once the seat is sold again
	Why    string
}

// Leave says what comes back of what was paid for one seat (R4). Days are calendar
// days in the shop, so a class at 18:00 is as far off in the morning as at night.
func Leave(paid unit.Money, today, class unit.Day, r Rules) Leaving {
	l := Leaving{Days: int(class - today)}
	switch {
	case l.Days >= r.FullBackDays:
		l.Tier, l.Money, l.Credit = AllBack, paid, paid
		l.Why = fmt.Sprintf("%d days before the class: all money back", l.Days)
	case l.Days >= r.ChooseDays:
		l.Tier, l.Money, l.Credit = Choose, paid.Share(r.ChooseShare), paid
		l.Why = fmt.Sprintf("%d days before the class: full credit, or %s back", l.Days, r.ChooseShare)
	default:
		l.Tier, l.IfSold = IfSoldNew, paid
		l.Why = fmt.Sprintf("%d days before the class: nothing back, unless the seat is sold again", l.Days)
	}
	return l
}

// Words says it as a person reads it before pressing.
func (l Leaving) Words() string {
	switch l.Tier {
	case AllBack:
		return l.Money.String() + " back"
	case Choose:
		return fmt.Sprintf("%s back, or %s credit", l.Money, l.Credit)
	}
	return fmt.Sprintf("%s back; %s credit if the seat is sold again", l.Money, l.IfSold)
}

// Add sums leavings of one party on one day, for showing.
func (l Leaving) Add(o Leaving) Leaving {
	l.Money, l.Credit, l.IfSold = l.Money+o.Money, l.Credit+o.Credit, l.IfSold+o.IfSold
	return l
}

// CalledOffCredit is the credit for money paid when the shop calls off (R5). Vouchers
// and credits that were used come back as they were and are not raised.
func CalledOffCredit(paidInMoney unit.Money, r Rules) unit.Money {
	return paidInMoney.Share(r.CalledOffShare)
}

// Shares splits what has been paid over the seats by their prices, so that a seat
// given up takes with it what was paid for it and no more. Free seats share nothing.
func Shares(paid unit.Money, prices []unit.Money) []unit.Money {
	w := make([]int64, len(prices))
	for i, p := range prices {
		w[i] = int64(p)
	}
	if s := unit.Split(paid, w); s != nil {
		return s
	}
	return make([]unit.Money, len(prices))
}
