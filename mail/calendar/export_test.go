package calendar

// Clean is what a text must look like when it comes back.
var Clean = clean
