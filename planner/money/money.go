// Package money reckons what a party pays when, and what comes back when plans
// change: deposits, the order of paying, and the give-back of somebody who leaves or
// whose class is called off. Everything is in whole cents; every answer carries its
// reason in one line, so that a customer and the counter read the same words.
//
// The rules are a shop's own (house rules R2, R4, R5, R7 and R8 of the demo shop);
// their figures come in as Rules. Nothing here knows the clock or a database.
package money

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Rules are the figures of a shop's money rules.
type Rules struct {
	PartyDeposit   int        // R2: parties of this many seats and more pay a deposit
	DepositShare   unit.Ratio // R2
	BalanceDays    int        // R2: rest by this many days before the class
	PrivateDeposit unit.Money // R2: fixed sum of a private party
	PrivateBalance int        // R2: rest by this many days before
	FullBackDays   int        // R4: this many days before and more: all back
	ChooseDays     int        // R4: this many and more: credit in full or a share back
	ChooseShare    unit.Ratio // R4
	CalledOffShare unit.Ratio // R5: credit as a share of the money paid
}

// Due is what is paid at booking and what later.
type Due struct {
	Now    unit.Money
	Rest   unit.Money
	RestBy unit.Day // none when nothing is left for later
	Why    string
}

// PartyDue says what a party of so many seats pays when it books on today for a class
// (R2). When the day of the rest has already come, everything is due at once.
func PartyDue(total unit.Money, seats int, today, class unit.Day, r Rules) Due {
	by := class - unit.Day(r.BalanceDays)
	switch {
	case seats < r.PartyDeposit:
		return Due{Now: total, Why: fmt.Sprintf("parties under %d seats pay at booking", r.PartyDeposit)}
	case today >= by:
		return Due{Now: total, Why: fmt.Sprintf("the class is %d days away or less, so all is due at booking", r.BalanceDays)}
	}
	now := total.Share(r.DepositShare)
	return Due{Now: now, Rest: total - now, RestBy: by,
		Why: fmt.Sprintf("parties of %d seats and more pay %s at booking, the rest by %d days before", r.PartyDeposit, r.DepositShare, r.BalanceDays)}
}

// PrivateDue is PartyDue for a private party: a fixed sum at booking, the rest on the
// final head count (R2).
func PrivateDue(total unit.Money, today, class unit.Day, r Rules) Due {
	by := class - unit.Day(r.PrivateBalance)
	if total <= r.PrivateDeposit || today >= by {
		return Due{Now: total, Why: "all is due at booking"}
	}
	return Due{Now: r.PrivateDeposit, Rest: total - r.PrivateDeposit, RestBy: by,
		Why: fmt.Sprintf("a private party pays %s at booking, the rest by %d days before on the final head count", r.PrivateDeposit, r.PrivateBalance)}
}

// LeastHeads is the smallest final head count of a private party: booked less 15 %
// rounded down (R2).
func LeastHeads(booked int) int { return booked - booked*15/100 }
