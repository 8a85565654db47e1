# Plusieurs sites : la vue d’ensemble, un site, les messages quand l’un d’eux se tait.

## sites

sites-title = Sites
sites-none = Aucun site n’a encore rien écrit.
sites-count =
    { $count ->
        [one] { $count } site
       *[other] { $count } sites
    }
sites-all_fine = aucun n’a besoin de quelqu’un
sites-count_need =
    { $count ->
        [one] { $count } a besoin de quelqu’un
       *[other] { $count } ont besoin de quelqu’un
    }
sites-count_silent =
    { $count ->
        [one] { $count } se tait
       *[other] { $count } se taisent
    }
sites-count_awaited =
    { $count ->
        [one] { $count } n’a jamais été entendu
       *[other] { $count } n’ont jamais été entendus
    }
sites-read = Selon l’archive à { $at }.
sites-not_read_yet = L’archive est interrogée pour la première fois. Cette page montre les sites dans un instant.
sites-no_answer = L’archive ne répond plus depuis { $at }. Tout ce qui suit date de ce moment. ({ $why })
sites-never_read = L’archive ne répond pas, et rien n’a été lu auparavant. ({ $why })
sites-standing_high = Agir maintenant
sites-standing_silent = Se tait
sites-standing_alarm = Agir bientôt
sites-standing_seen = Vu par quelqu’un
sites-standing_mend = À entretenir
sites-standing_fine = Tout va bien
sites-standing_awaited = Jamais entendu
sites-heard = entendu { $at }
sites-never_heard = jamais entendu
sites-silent = rien entendu depuis { $at }
sites-unwatched = Personne n’est averti de son silence.
sites-last_said = Quand il a été entendu pour la dernière fois
sites-unseen =
    { $count ->
        [one] { $count } alarme que personne n’a vue
       *[other] { $count } alarmes que personne n’a vues
    }
sites-over_unseen = passée, vue par personne
sites-itself = le moniteur lui-même
sites-dry = { $place } risque d’être trop sec { $at }
sites-dry_already = { $place } risque d’être trop sec depuis { $at }
sites-to_mend =
    { $count ->
        [one] { $count } carte à entretenir
       *[other] { $count } cartes à entretenir
    }
sites-this_week = D’ici sept jours
sites-eggs = œufs { $amount }
sites-larvae = larves { $amount }
sites-worked_out = calculé { $at }
sites-alarms = Alarmes
sites-places = Lieux
sites-bins = Bacs
sites-cohorts = Cohortes
sites-ahead = Ce qui vient
sites-boards = Cartes
sites-until = assez humide jusqu’à { $at }
sites-until_passed = risque d’être trop sec depuis { $at }
sites-water = peut prendre { $litres } d’eau
sites-harvest = récolte { $day } ({ $window })
sites-late = en retard
sites-board_fine = n’a besoin de rien
sites-board_to_mend = demande un coup de main
sites-to_all = Tous les sites
sites-others =
    { $count ->
        [one] { $count } site qui n’a besoin de personne
       *[other] { $count } sites qui n’ont besoin de personne
    }
sites-unknown = Il n’y a aucun site de ce nom que vous puissiez voir.
sites-login = Votre nom
sites-login_explained = Le nom qui vous désigne dans sites.toml.
sites-wrong = Le nom ou le mot de passe n’est pas juste.
sites-more = { $count } autres suivent plus bas.
sites-find = Chercher un site
sites-find_do = Montrer
sites-nothing_found = Aucun site de ce nom.
sites-written = { $file } est écrit. Mettez-y l’adresse de l’archive, puis : rearing-monitor sites

## site messages

sites-message_silent = { $site } : se tait
sites-message_silent_body =
    Rien n’a été entendu de { $site } depuis { $at } ({ $length }). Son propre ordinateur ne peut pas le dire. Le courant, le réseau ou l’ordinateur peut être coupé : appelez quelqu’un sur place, et faites surveiller les animaux jusqu’à ce qu’il soit de nouveau entendu.
sites-message_before = Quand il a été entendu pour la dernière fois : { $what }
sites-message_many =
    { $count ->
        [one] { $count } site se tait
       *[other] { $count } sites se taisent
    }
sites-message_many_body = Autant à la fois, c’est plutôt le réseau ou la porte de l’archive que les fermes. { $sites }
sites-message_several_body = Rien n’a été entendu d’eux depuis plus longtemps que d’habitude : { $sites } Appelez quelqu’un sur place, et faites surveiller les animaux jusqu’à ce qu’ils soient de nouveau entendus.
sites-message_and_more = et { $count } autres.
sites-message_back = { $site } : de nouveau entendu
sites-message_back_body = { $site } est de nouveau entendu, après { $length }. Ce qui s’est passé entre-temps se trouve sur sa propre page.
sites-message_many_back =
    { $count ->
        [one] { $count } site est de nouveau entendu
       *[other] { $count } sites sont de nouveau entendus
    }
sites-message_many_back_body = De nouveau entendus : { $sites } Ce qui s’est passé entre-temps se trouve sur leurs propres pages.
sites-message_archive = L’archive des sites ne répond pas
sites-message_archive_body = On ne sait rien d’aucun site depuis { $at } ({ $length }). Le silence d’un site ne peut pas être remarqué tant qu’elle ne répond pas. ({ $why })
sites-message_archive_back = L’archive répond de nouveau
sites-message_archive_back_body = Elle n’a pas répondu pendant { $length }. Les sites qui restent silencieux seront annoncés dans { $wait }.
