"""Names that are text wherever they stand: markup of a terminal, a page and a formula, other scripts, signs, great length."""

A_FEW = ("[/]", "[@click=quit]x[/]", "[bold]Bo", "日本語の名前", "سلمى", "a" * 60, "\\[red]")
ODD_NAMES = (
    *A_FEW, "[@click=app.quit]Oda[/]", "<script>alert(1)</script>", "</svg><b>bold", 'Quo"te, \\', "$x^2$", "Ann $", "&amp;",
    "O'Dell {{ 7 * 7 }} {% x %}", "Maximiliana van der Oosterhuizen-Falkenrath", "さくら", "עדי נועה", "한지우", "عُدي",
    "A\u0308nni\u0301", "ﬃligree", "👩‍🚒 Pia", "🇳🇴 Siv", "🏋 Runa",
)  # fmt: skip
