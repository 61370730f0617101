"""Teaching a class: who can wear what, what to buy, free choice, who mixes when."""
