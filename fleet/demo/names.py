"""Invented people: staff with the logins the demonstration prints, and sixty riders with plain names."""

from typing import Final

RIDERS: Final = (
    "Robin Vale", "Ottie Crane", "Alma Dunmore", "Bram Holloway", "Cleo Marsh", "Dov Penrose", "Edda Larkin",
    "Finn Oakley", "Greta Sollow", "Hale Brandish", "Ilsa Corrin", "Jory Tamsin", "Kit Ferrow", "Lena Ashgrove",
    "Milo Thornbeck", "Nell Garrow", "Orrin Saddler", "Petra Winslade", "Quin Hartsel", "Rosa Brindle",
    "Sten Wickham", "Tilda Moorcroft", "Ulf Bexley", "Vera Stannard", "Wes Culver", "Yana Peddar",
    "Zeke Arkwright", "Ada Tolliver", "Ben Rushmere", "Cara Windle", "Dan Orchard", "Elsie Blackmoor",
    "Frank Ottery", "Gwen Haddow", "Hugo Stapley", "Ines Caraway", "Jonas Quarrie", "Kaya Drummer",
    "Leo Fenwright", "Mara Sedgeley", "Ned Colebrook", "Olga Trewin", "Pip Hathersage", "Rolf Amberley",
    "Suki Loxton", "Theo Marwick", "Una Selkirk", "Viggo Pelham", "Wanda Rookley", "Xan Ellwood",
    "Yves Corbett", "Zora Minster", "Art Bellamy", "Bea Hollis", "Cyrus Wainfleet", "Dora Kestle",
    "Emil Standish", "Fay Lindow", "Gus Roper", "Hetty Vance",
)  # fmt: skip

# address, name, roles, what the login is for
STAFF: Final = (
    ("fitter@example.org", "Fen Aldous", [("tarn", "fitter")], "fitter at Tarn Tire Service"),
    ("stock@example.org", "Sal Whitlow", [("tarn", "stock_manager")], "stock manager at Tarn Tire Service"),
    ("crew@example.org", "Corin Bly", [("longfield", "crew")], "event crew of Longfield Track Days"),
    (
        "director@example.org",
        "Dara Quill",
        [("longfield", "director")],
        "event director of Longfield Track Days",
    ),
    (
        "inspector@example.org",
        "Ines Marlowe",
        [("longfield", "inspector")],
        "tech inspector of Longfield Track Days",
    ),
    ("tester@example.org", "Tove Harker", [("longfield", "tester")], "tester of Longfield Track Days"),
    ("breckside@example.org", "Stan Oram", [("breckside", "fitter")], "fitter at Breckside Wheel Works"),
)
RIDER_LOGIN: Final = ("rider@example.org", "rider (Robin Vale)")


def address(index: int) -> str:
    """Return the address a rider signs in with."""
    if index == 0:
        return RIDER_LOGIN[0]
    return f"{RIDERS[index].lower().replace(' ', '.')}@example.org"
