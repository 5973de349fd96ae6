"""How English pages write dates; everything else as Django knows it of British English."""

DATE_FORMAT = "j F Y"
