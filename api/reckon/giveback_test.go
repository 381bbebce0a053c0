package reckon_test

import (
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

// House rules R4, R5 and R8 of the invented shop, with the figures of its story: two of
// six leave a pig clinic nine days before; a single seat leaves three days before; a third
// leaves five days before; half a class is called off.
func TestGivebackKind(t *testing.T) {
	type answer struct {
		Money    string `json:"money_back"`
		Credit   string
		IfSold   string `json:"credit_if_sold_again"`
		Restored string
		Kept     string
		Stays    string
		Seats    []struct{ Words string }
		Returned []struct{ From, As, Amount string }
		Choices  []struct{ Choice, Money, Credit string }
	}
	six := func(who string) string {
		return `{"why": "leaving", "today": "2026-10-20", "class": "2026-10-29", "paid": [{"with": "money", "amount": "$396.00"}, {"with": "money", "amount": "$594.00"}], "seats": [` + who +
			strings.Repeat(`,{"price": "$165.00"}`, 4) + `]}`
	}
	for name, r := range map[string]struct {
		in                                    string
		money, credit, ifSold, restored, kept string
		stays                                 string
		check                                 func(*testing.T, answer)
	}{
		"S-15, one wants money and one credit": {six(`{"price": "$165.00", "leaves": true, "wants": "money"}, {"price": "$165.00", "leaves": true, "wants": "credit"}`),
			"$82.50", "$165.00", "$0.00", "$0.00", "$82.50", "$660.00", func(t *testing.T, a answer) {
				if a.Seats[0].Words != "$82.50 back, or $165.00 credit" {
					t.Error(a.Seats)
				}
			}},
		"S-03, three days before": {`{"why": "leaving", "today": "2026-10-14", "class": "2026-10-17", "paid": [{"with": "money", "amount": "$95.00"}], "seats": [{"price": "$95.00", "leaves": true}]}`,
			"$0.00", "$0.00", "$95.00", "$0.00", "$95.00", "$0.00", func(t *testing.T, a answer) {
				if a.Seats[0].Words != "$0.00 back; $95.00 credit if the seat is sold again" {
					t.Error(a.Seats)
				}
			}},
		"S-13, a voucher used on a dearer class, twenty days before": {`{"why": "leaving", "today": "2026-10-09", "class": "2026-10-29",
			"paid": [{"with": "voucher", "amount": "$95.00", "whole": true}, {"with": "money", "amount": "$70.00"}], "seats": [{"price": "$165.00", "leaves": true}]}`,
			"$70.00", "$0.00", "$0.00", "$95.00", "$0.00", "$0.00", func(t *testing.T, a answer) {
				if len(a.Returned) != 2 || a.Returned[0].From != "money" || a.Returned[1].As != "voucher as it was" {
					t.Errorf("%+v", a.Returned)
				}
			}},
		"half of a seat voucher alone is credit": {`{"why": "leaving", "today": "2026-10-20", "class": "2026-10-29",
			"paid": [{"with": "voucher", "amount": "$95.00", "whole": true}], "seats": [{"price": "$95.00", "leaves": true, "wants": "money"}]}`,
			"$0.00", "$47.50", "$0.00", "$0.00", "$47.50", "$0.00", nil},
		"called off, money": {`{"why": "called off", "today": "2026-08-30", "class": "2026-10-22",
			"paid": [{"with": "voucher", "amount": "$95.00"}, {"with": "money", "amount": "$100.00"}], "seats": [{"price": "$95.00"}, {"price": "$100.00"}]}`,
			"$100.00", "$0.00", "$0.00", "$95.00", "$0.00", "$0.00", func(t *testing.T, a answer) {
				if len(a.Choices) != 3 || a.Choices[1].Credit != "$110.00" {
					t.Errorf("%+v", a.Choices)
				}
			}},
		"called off, credit of 110 %": {`{"why": "called off", "wants": "credit", "today": "2026-08-30", "class": "2026-10-22",
			"paid": [{"with": "voucher", "amount": "$95.00"}, {"with": "money", "amount": "$100.00"}], "seats": [{"price": "$95.00"}, {"price": "$100.00"}]}`,
			"$0.00", "$110.00", "$0.00", "$95.00", "$0.00", "$0.00", nil},
	} {
		t.Run(name, func(t *testing.T) {
			var a answer
			reckonInto(t, "giveback", r.in, &a)
			if a.Money != r.money || a.Credit != r.credit || a.IfSold != r.ifSold || a.Restored != r.restored || a.Kept != r.kept || a.Stays != r.stays {
				t.Errorf("%+v", a)
			}
			if r.check != nil {
				r.check(t, a)
			}
		})
	}
	for want, in := range map[string]string{
		"say which of them leave":               `{"why": "leaving", "today": "2026-10-14", "class": "2026-10-17", "paid": [], "seats": [{"price": "$95.00"}]}`,
		"the class is over":                     `{"why": "leaving", "today": "2026-10-18", "class": "2026-10-17", "paid": [], "seats": [{"price": "$95.00", "leaves": true}]}`,
		"$96.00 were paid for seats of $95.00":  `{"why": "leaving", "today": "2026-10-14", "class": "2026-10-17", "paid": [{"with": "money", "amount": "$96.00"}], "seats": [{"price": "$95.00", "leaves": true}]}`,
		"seats[0].wants: please choose: $47.50": `{"why": "leaving", "today": "2026-10-08", "class": "2026-10-17", "paid": [{"with": "money", "amount": "$95.00"}], "seats": [{"price": "$95.00", "leaves": true}]}`,
		"only a voucher can be for":             `{"why": "leaving", "today": "2026-10-08", "class": "2026-10-17", "paid": [{"with": "money", "amount": "$95.00", "whole": true}], "seats": [{"price": "$95.00", "leaves": true}]}`,
	} {
		if _, err := reckon.Run("giveback", []byte(in)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
