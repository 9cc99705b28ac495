"""Everything held about one person: taken out as an archive, or erased while tire and safety facts stay."""
