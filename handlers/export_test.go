package handlers

// CSVCell is tested by itself: no page lets every character in.
var CSVCell = csvCell

// TakenAt is tested by itself: no clock of a test reaches every clock change.
var TakenAt = takenAt
