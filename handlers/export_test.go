package handlers

// CSVCell is tested by itself: no page lets every character in.
var CSVCell = csvCell
