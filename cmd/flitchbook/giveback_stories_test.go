package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flitchbook/frontend"
)

// The order of paying and of giving back (house rule R8), on Tue Oct 20: a credit of $165.00
// and a voucher of $100.00 pay three seats of B8 at $105.00, the voucher first, then the
// credit, then money: 100 + 165 + 50 = 315. 32 days before, everything comes back the other
// way round: the first seat's $105.00 are the $50.00 and $55.00 of the credit, the others'
// $210.00 the credit's other $110.00 and the voucher, whole again with its old end.
func TestStoryBackTheOtherWayRound(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 12:00", asDemo(&frontend.Demo{}))
		p := h.post(t)
		tobias, cordelia := h.signedIn(t, "tobias"), h.visitor(t)
		cordelia.letGo(h.bookingPage(t, 44), map[string]string{"Amos": "credit"}, nil)
		p.now()
		credit := cut(spaces.ReplaceAllString(p.only(cordeliaMail, "A credit of $165.00").text, " "), "Your code: ", " ")
		sold := tobias.ask(http.MethodPost, "/api/v1/vouchers", `{"kind":"money","amount":"$100.00","buyer":"Piers F.","paid":"$100.00","method":"cash"}`, http.StatusOK)
		voucher := dig(sold, "code")
		seats := cordelia.holdSeats("B8", "3", "Cordelia F.", cordeliaMail, url.Values{"p2_name": {"Piers"}, "p3_name": {"Sabine"}})
		if took := cordelia.payFor(seats, credit+", "+voucher); took != "$50.00" { // typed the other way round
			t.Errorf("besides the codes the till took %s", took)
		}
		number := dig(cordelia.own(seats), "number")
		tobias.reads("/staff/bookings/"+number, "$100.00 voucher", "$165.00 credit", "$50.00 till", "nothing owed")
		left := func(want string) {
			t.Helper()
			v := tobias.ask(http.MethodPost, "/api/v1/vouchers/find", `{"code":"`+voucher+`"}`, http.StatusOK)
			if dig(v, "left") != want || dig(v, "expires_on") != "2031-10-20" {
				t.Errorf("the voucher has %s until %s, want %s", dig(v, "left"), dig(v, "expires_on"), want)
			}
		}
		left("$0.00")
		p.now()
		before := len(p.sent)
		cordelia.reads(seats+"/leave", "32 days from today", "goes: $105.00 back", "Money paid by voucher or credit comes back as that voucher or credit")
		cordelia.letGo(seats, map[string]string{"Piers": "money"}, nil)
		p.now()
		p.sent[before].says(t, "Back to you: $50.00", "$55.00 is on the voucher or credit again that it was paid with.")
		tobias.reads("/staff/bookings/"+number, "-$50.00 till", "-$55.00 credit", "Paid $210.00", "nothing owed")
		left("$0.00")
		cordelia.letGo(seats, map[string]string{"Cordelia F.": "money", "Sabine": "money"}, nil)
		p.now()
		tobias.reads("/staff/bookings/"+number, "-$105.00 credit", "-$5.00 credit", "-$100.00 voucher", "Paid $0.00")
		left("$100.00")
		// Both are good again: they pay the same seats, with the same $50.00.
		again := cordelia.holdSeats("B8", "3", "Cordelia F.", cordeliaMail, nil)
		if took := cordelia.payFor(again, strings.ToUpper(voucher)+" "+credit); took != "$50.00" {
			t.Errorf("used again, the till took %s", took)
		}
	})
}
