package store

// dueTasks, in the order they are run at one moment.
var dueTasks = []dueTask{
	{"holds of seats", nextHoldEnd, endHolds},
	{"offers", nextOfferEnd, lapseOffers},
	{"waiting lists", nextQueueEnd, endQueues},
	{"answers to a class called off or moved", nextAnswerEnd, endAnswers},
	orderBysPassed,
	{"going ahead", nextDecision, decideGoing},
	{"last look at thin classes", nextLastLook, lookAgain},
	{"food needs", nextNeedsAsk, askNeeds},
	{"food answers to erase", nextErase, eraseNeeds},
	{"spice choices", nextPickEnd, endPicks},
	{"vouchers", nextVoucher, sendVouchers},
	{"credits", nextCreditEnd, runOutCredits},
	morningTask,
}
