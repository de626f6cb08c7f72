package glass

// table lists the glasses. A curve that comes from fixed points is the exact
// Fit through working (10^3), softening (10^6.6) and annealing point (10^12);
// a test repeats each fit. The annealing point serves only where the result
// passes Fit's bounds, because it fails markedly for some glasses (ISO 7884-7).
var table = []Glass{
	{
		Name:       "soda-lime-lamp",
		Label:      "soda-lime lamp tubing",
		Source:     "from memory: usual figures of lamp soda-lime; ask the maker's data sheet",
		SofteningC: 695, AnnealingC: 514, StrainC: 473, WorkingC: 1005,
		Curve: VFT{A: -2.735915492957746, B: 4611.251921741717, T0: 201.0739436619719},
	},
	{
		Name:       "lead-29",
		Label:      "lead stem glass, about 29 % PbO",
		Source:     "from memory: usual figures of lead stem glass; ask the maker's data sheet",
		SofteningC: 630, AnnealingC: 435, StrainC: 395, WorkingC: 985,
		Curve: VFT{A: -2.2, B: 4512.444444444442, T0: 117.22222222222236},
		Lead:  true,
	},
	{
		Name:  "srm-710",
		Label: "soda-lime reference glass SRM 710",
		Source: "curve: NBS certificate of SRM 710 (1962), A less 1 for Pa.s; fixed points " +
			"from memory (NBS SP 260)",
		SofteningC: 724, AnnealingC: 546, StrainC: 504, WorkingC: 1019,
		Curve: VFT{A: -2.626, B: 4236.118, T0: 266},
	},
	{
		Name:  "borosilicate-717a",
		Label: "sealing borosilicate, reference glass SRM 717a",
		Source: "curve: fit through the measured 1388/719/514 C at log 1.5/6.6/12 (Fluegel " +
			"2007, table 12); " +
			"working point from it; annealing and strain from memory (NBS SP 260, SRM 717)",
		SofteningC: 719, AnnealingC: 516, StrainC: 471, WorkingC: 1069,
		Curve: VFT{A: -2.776323, B: 5259.6770, T0: 158.0470},
	},
}
