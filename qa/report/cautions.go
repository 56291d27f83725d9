package report

// Cautions stand in every report, and in the README.
var Cautions = []string{
	"This is arithmetic on the files that are named here. It is no certificate: the contract, its tolerances and its acceptance rule come first, and where law or contract wants a licensed surveyor or a responsible engineer, their judgement and signature.",
	"If setting out and checking used the same wrong mark, the check agrees with the error. Tie to a second, independent mark.",
	"Nobody goes into a trench for a reading unless it is protected and a competent person has inspected it, that day and after rain. Follow the local rules on depth, exit, edge loads, water, air, plant and traffic.",
	"Find and mark buried services before digging or driving pegs, and dig carefully by hand near them. Never dig on a coordinate or on as-built data alone.",
	"Know the class of the laser from its label. Never look into the beam, least of all through a telescope; set it above or below eye level and switch it off when it is not needed.",
	"Pits and manholes are confined spaces: no entry for a reading without the local permit, gas test and rescue.",
	"Settlement after the survey, and a sag between two shots, cannot be seen here. Keep the original readings unaltered.",
}
