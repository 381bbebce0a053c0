package frontend

import (
	"strings"
	"testing"
)

func TestNavigationByRole(t *testing.T) {
	for _, tc := range []struct {
		role Role
		want string
	}{
		{Visitor, ""},
		{Kitchen, "Today Kitchen Calendars"},
		{Staff, "Today Find Classes Deliveries Bench Rack Rooms Smoke Shelf Trace Calendars"},
		{Owner, "Today Find Classes Season Meat Money Books Limits Trouble Bench Rack Rooms Smoke Shelf Trace Notices Calendars"},
	} {
		var got []string
		for _, n := range (Layout{Actor: Actor{"x", tc.role}}).Nav() {
			got = append(got, n.Label)
		}
		if s := strings.Join(got, " "); s != tc.want {
			t.Errorf("%q sees %q, want %q", tc.role, s, tc.want)
		}
	}
}

func TestNavigationMarksThePageOneIsOn(t *testing.T) {
	for path, want := range map[string]string{
		"/staff/rack": "Rack", "/staff/classes/7": "Classes", "/staff/racket": "", "/": "",
	} {
		got := ""
		for _, n := range (Layout{Path: path, Actor: Actor{"x", Owner}}).Nav() {
			if n.Current {
				got += n.Label
			}
		}
		if got != want {
			t.Errorf("on %s the marked link is %q, want %q", path, got, want)
		}
	}
}

func TestNavigationKnowsNoMoneyForStaff(t *testing.T) {
	for _, role := range []Role{Staff, Kitchen} {
		for _, n := range (Layout{Actor: Actor{"x", role}}).Nav() {
			if strings.HasPrefix(n.Href, "/owner/") {
				t.Errorf("%s is offered %s", role, n.Href)
			}
		}
	}
}
