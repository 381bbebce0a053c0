// Package heat reads temperature logs.
//
// # Cold rooms
//
// A room is probed every fifteen minutes; instants are seconds in UTC, so a night
// when the clocks change is as long as it really was. Every reading above 41 °F is
// noted (Food Code 3-501.16, cold holding). A run is readings above 41 °F with none
// at or below between them; when more than 2 h have passed from its first to a later
// reading, or when any reading is above 45 °F, a hold opens at the reading that
// breaks the limit (house rule). More than an hour without a reading is a gap: it is
// shown and the owner is asked, but it opens no hold by itself. A gap inside a run
// does not end the run, since nothing shows that the room was cold.
//
// A hold never ends by a reading: a named person releases or dumps.
//
// Cure stalls in the cold, so time below 34 °F is counted and added to the cure; see
// ColdTime.
//
// # Heat and cooling
//
// Lethality integrates a core log by the kill behind FSIS Appendix A (1999); Cooling
// judges the fall after smoking by one of several published rules.
//
// No log makes a product ready to eat.
package heat
